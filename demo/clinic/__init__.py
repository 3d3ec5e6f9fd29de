"""How the invented clinic is made: its truth, its people, their lids, what happened, and who wrote it down."""
