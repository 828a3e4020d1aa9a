"""The tests, laid out like bot/; what several of them need is in tests/support/."""
