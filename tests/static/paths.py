"""Tool paths for the viewer, written down by hand: the layout stands in shopflow/docs/look.md."""

import struct


def path_bytes(*motions):
    """The bytes SFP1 of motions (line, kind, tool, points)."""
    lines, kinds, tools, polylines = zip(*motions, strict=True)
    starts = [0]
    for points in polylines:
        starts.append(starts[-1] + len(points))
    numbers = [coordinate for points in polylines for point in points for coordinate in point]
    count = len(motions)
    return b"".join(
        [
            b"SFP1",
            struct.pack("<3I", count, starts[-1], 0),
            struct.pack(f"<{count}i", *lines),
            struct.pack(f"<{count}i", *map(int, kinds)),
            struct.pack(f"<{count}i", *tools),
            struct.pack(f"<{count + 1}I", *starts),
            struct.pack(f"<{len(numbers)}f", *numbers),
        ]
    )
