"""Gather, ask the core, apply: each step owns its transaction, and a crash inside one simply rolls back."""
