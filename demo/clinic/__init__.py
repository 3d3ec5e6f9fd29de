"""The simulation of the invented clinic: true effects, patients, lids, events, reviews, and the workbook."""
