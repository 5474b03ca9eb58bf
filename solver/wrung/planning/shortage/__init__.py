"""What the shelf lacks: which demands cannot stand together, and which blocks would help."""
