"""From a person or a sheet to checked rows: is everything wrong refused, and everything right taken as it was meant?"""
