"""What the hands do: the order of wringing, steps and cautions.

order.py says which block stands on which; steps.py and changes.py what is done, soaking.py and
caliper.py for how long and to what reading; instructions.py puts it together with the cautions.
The words are data, see `wrung.texts`.
"""
