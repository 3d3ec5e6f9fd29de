"""Local figures for one patient: matched lids, counts out of 100, and a prediction where the data allow one."""
