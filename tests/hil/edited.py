"""A virtual board with one edit in its copy of the firmware."""

from twinloop_hil.virtual.board import VirtualBoard


def edited(name, old, new):
    """A kind of virtual board: in this file of its flash, the text `old` is `new`."""

    class Edited(VirtualBoard):
        def lay_out(self):
            super().lay_out()
            path = self.folder / name
            assert path.read_text().count(old) == 1
            path.write_text(path.read_text().replace(old, new))

    return Edited
