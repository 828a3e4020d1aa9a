"""Dunnock: follow-up by text message of mothers and babies after they leave the maternity ward."""

__version__ = "0.1.0"
