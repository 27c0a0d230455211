"""Engineered sub-assemblies out of parts and physics: channels, heads and supplies, as arrays."""
