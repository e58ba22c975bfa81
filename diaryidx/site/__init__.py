"""What the site's pages need, typed and tested; importing any of it loads neither spaCy nor vosk.

The hook files in ``plugins/`` are thin: each names an address and hands over to a module here of the same name.
"""
