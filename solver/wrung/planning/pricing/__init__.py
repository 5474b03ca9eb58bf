"""Pricing: prices of contended blocks, and the bound and the further candidates they lead to."""
