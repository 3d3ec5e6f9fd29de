"""How is a table made, and how is it written in each form?"""
