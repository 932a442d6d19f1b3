"""The run that can really be flown: deep water, entered and left clear of ground and obstacles.

deep_water, chords     where the depth evidence lets one look; lines through it
skyline, barred, chord  what rises behind both shores; where it bars an end; the longest piece of one line
run                    `usable_run`: that piece for both directions, with what limits it in words
pieces, useful         the few pieces of many lines that are worth judging
"""
