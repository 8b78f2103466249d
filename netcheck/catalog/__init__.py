"""What is known about components: tubes, lamps, dielectrics, safety classes, preferred values.

Belongs here: data files (data/, one copy of each fact, each with its source) and the typed, cached
loaders that read them. Does not belong here: what a text says of one set (language/), what follows
from it (circuit/, rules/). Nothing is loaded until a loader is called; import the module you need:
`tubes`, `published`, `capacitors`, `safety`, `preferred`, `lamps`, `bases`.
"""
