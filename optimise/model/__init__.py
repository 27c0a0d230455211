"""Screening, the mixed-integer model, solving, the exact check and the refinement that joins them."""
