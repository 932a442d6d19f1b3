"""The run that can really be flown: deep water, entered and left clear of ground and obstacles.

deep_water, chords     where the depth evidence lets one look; lines through it
skyline, chord         what rises behind both shores; the longest piece of one line whose surfaces are clear
pieces, useful         the few pieces of many lines that are worth judging
"""
