"""How is each picture drawn?"""
