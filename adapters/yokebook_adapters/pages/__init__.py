"""Pages for people: HTML that opens from a file and prints, and the same as tagged PDF. Extra `reports`.

Every page is made of the data that the JSON and text outputs print, by a template in templates/. It needs no network
and runs no script; whatever comes from a project is escaped.
"""
