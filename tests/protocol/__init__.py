"""Does the protocol take what it says, and refuse the rest in sentences?"""
