"""Runs with gentle turns along a river or a narrow arm.

shore, graph      edges to keep clear of; legs between points spread over the water
search, polish    the longest chain of legs; lengthening it at random
pieces            straights and arcs of a chain, their line and least distance from the shore
runs              `bent_run`: from polygon and turn radius to the run
flyable           the pieces of a bent run that are deep and whose ends are clear: those to be judged
"""
