"""From geometry to decision: what to move, which way, how far, and what the scales read then."""
