"""Sheets of paper: one page for a ranking, one page for a water. They print what the records say and compute nothing.

paper                          a template and its values to one page of PDF, A4 or Letter
ranking_sheet, water_sheet     what stands on each page
water_map                      the map of one water, made to be printed in black and white
templates/                     the pages themselves
"""
