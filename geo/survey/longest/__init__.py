"""The exact longest run and the rose of a polygon; `geo.survey.runs` is its front door.

rings, frame, predicates    the shore as edges in a local frame with a grid; error-free side tests
headings, lines, trials     what is tried: fans of headings, one line, sweeps of parallel lines
bundles, search             what may still be longer, by bundles of lines, best first to the certificate; scratch
limits, pool                what ends a search early; small bundles that wait, the most promising first
tangents                    with a corridor: the few lines that touch two corners or arcs of the clear water
"""

import geo.base.kernel_cache  # noqa: F401  # before the first kernel is defined
