"""Queries about recorded data: contradictions, odd values, gradings, gaps and what each gap costs the comparison."""
