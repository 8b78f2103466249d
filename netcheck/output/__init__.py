"""Writers: the same findings and pages as text for people and as JSON for programs.

Belongs here: turning a report, a rule or a tube type into lines or documents, and saving them.
Does not belong here: finding anything out, or reading options (cli.py).

columns.py   what a terminal shows of a text: widths, wrapping, marking, escapes
cautions.py  the words that end every output
text.py      findings for people        machine.py   the JSON shapes and their schemas
why.py       a rule's page              tube.py      a tube type's page
saving.py    a file that is never overwritten by surprise
"""
