"""How often is what the program says true? Simulations run by hand; their tables are committed beside them."""
