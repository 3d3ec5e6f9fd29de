"""Estimators, one family a file: arrays in, a small frozen result out; no files, no names of measures."""
