"""Drawings as SVG of our own: faces of devices, rooms, lines of time, decision tables. Plain Python, no library.

Every drawing has a title and a description in words, says by text and by hatching what it says by tone, and is the same
for the same data. What is drawn is read off rulings, facts given and resolved law; no rule is here.
"""
