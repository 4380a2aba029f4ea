"""Pictures of a sweep. Each function takes a view and gives a matplotlib `Figure`; none of them touches pyplot.

    harp_picture(view)                            every string in its place, and below how it stands against fresh: for a file
    harp_alone(view, layout), lanes_picture(view, layout)   the two of them for a page; layouts WIDE, MIDDLE and NARROW
    tall_lanes_picture(view)                      the second for phones
    with sketcher() as sketch                     one string, four small pictures as SVG for a page
    string_picture(view, name)                    the four of them on one sheet
    season_picture(view, width)                   a year, string by string
    save_figure(figure, path)                     PNG, SVG or PDF by the path's ending
    inline_svg(figure, label)                     SVG text for a page, coloured by the page's style sheet
"""

from toneprobe.report.figures.harp import harp_alone, harp_picture, lanes_picture
from toneprobe.report.figures.inline import inline_svg
from toneprobe.report.figures.saving import save_figure
from toneprobe.report.figures.season import season_picture
from toneprobe.report.figures.sheet import string_picture
from toneprobe.report.figures.small import sketcher
from toneprobe.report.figures.strings import MIDDLE, NARROW, WIDE
from toneprobe.report.figures.tall import tall_lanes_picture
