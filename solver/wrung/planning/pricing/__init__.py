"""Pricing: prices of contended blocks, the bound that they prove, and new candidates."""
