"""Papers of the bench: what a restorer takes to the set, as plain objects.

Belongs here: what was asked for (line, meter, suppositions), charts made from the computation.
Does not belong here: solving (circuit/), judging (rules/), the look of a paper (output/).

asked.py          the shared options as values     suppose.py    `--suppose` in words
controls.py       volume controls at maximum
voltage_chart.py  volts per tube and pin, its objects; filled by charting.py and tube_rows.py
resistance_chart.py  ohms with the power off
"""
