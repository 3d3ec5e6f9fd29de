"""How often what the program says is true: simulations run by hand, their tables committed beside them."""
