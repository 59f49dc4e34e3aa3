"""What students have shown: their rehearsals, what they remember, curves and pages."""
