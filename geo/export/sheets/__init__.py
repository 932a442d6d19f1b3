"""Sheets of paper: one page for a ranking, one page for a water. They print what the records say and compute nothing.

paper                          a template and its values to one page of PDF, A4 or Letter
ranking_sheet, water_sheet     what stands on each page
place_notes                    what people know of a place: obstacles, closures, leave, notes of crews
water_map, side_drawing        the map of one water and its run from the side, made to be printed in black and white
templates/                     the pages themselves
"""
