"""How is the whole put on a page?"""
