"""The rules of the direct model, one file each."""
