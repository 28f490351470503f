"""The Study step: questions asked of many serves."""
