"""Deciding fast: what tells records apart for a question, and decisions kept by it or worked out by look-up."""
