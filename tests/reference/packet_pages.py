"""Draws a page of a packet as a picture, with the PDF library that also measures it.

python tests/reference/packet_pages.py results/pump/packet.pdf 1 examples/pump/packet-cover.png
python tests/reference/packet_pages.py results/pump/packet.pdf 3 examples/pump/packet-saw.png
"""

import sys

import pymupdf

DOTS_PER_INCH = 80


def main() -> None:
    packet, page, picture = sys.argv[1:]
    with pymupdf.open(packet) as pages:
        pages[int(page) - 1].get_pixmap(dpi=DOTS_PER_INCH).save(picture)


if __name__ == "__main__":
    main()
