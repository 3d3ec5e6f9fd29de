"""What does a congress need, and into which files does it go?"""
