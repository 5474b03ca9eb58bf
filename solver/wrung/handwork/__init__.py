"""What the hands do: the order of wringing, steps and cautions.

order.py says which block is wrung onto which; before.py, wringing.py and afterwards.py the steps of
one stack, care.py those that angle blocks share, uses/ what each kind of target does with its
stacks; soaking.py, temperatures.py, caliper.py and protractor.py for how long, how warm and to what
reading; for_answer.py and instructions.py put it together with the cautions. The words are data,
see `wrung.texts`.
"""
