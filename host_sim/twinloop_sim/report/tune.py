"""The picture of a sweep: net heat over start and stop difference, with starts per day."""

import numpy as np

SIZE_IN, PX_PER_INCH = (11.0, 6.5), 100


def write_heat_map(path, facts):
    """Write the map of a sweep as a PNG of 1100 x 650 pixels. Raises: OSError."""
    from matplotlib.figure import Figure

    starts = sorted({row["start_difference_k"] for row in facts["grid"]})
    stops = sorted({row["stop_difference_k"] for row in facts["grid"]})
    net = np.full((len(stops), len(starts)), np.nan)
    for row in facts["grid"]:
        net[stops.index(row["stop_difference_k"]), starts.index(row["start_difference_k"])] = row["net_kwh"]
    picture = Figure(figsize=SIZE_IN, dpi=PX_PER_INCH)
    axes = picture.subplots()
    image = axes.imshow(net, origin="lower", aspect="auto", cmap="cividis")
    picture.colorbar(image, ax=axes, label="net heat, kWh")
    axes.set_xticks(range(len(starts)), [f"{start:g}" for start in starts])
    axes.set_yticks(range(len(stops)), [f"{stop:g}" for stop in stops])
    axes.set_xlabel("start_difference, K")
    axes.set_ylabel("stop_difference, K")
    middle = (np.nanmin(net) + np.nanmax(net)) / 2.0
    for row in facts["grid"]:
        place = starts.index(row["start_difference_k"]), stops.index(row["stop_difference_k"])
        text = f"{row['net_kwh']:.1f} kWh\n{row['starts_per_day']:.1f} per day" + ("\nunsafe" if row["violations"] else "")
        axes.text(*place, text, ha="center", va="center", fontsize=8, color="white" if row["net_kwh"] < middle else "black")
    mark(axes, starts, stops, facts["advice"], "now_", "--", "present setting")
    mark(axes, starts, stops, facts["advice"], "", "-", "advice")
    axes.set_title(f"{facts['scenario']}: net heat into the tank, and starts per day", parse_math=False)
    axes.legend(loc="upper left", bbox_to_anchor=(0.0, -0.12), ncols=2, frameon=False)
    picture.tight_layout()
    picture.savefig(path, format="png")


def mark(axes, starts, stops, advice, prefix, style, label):
    """Frame one pair; does nothing when it lies outside the map."""
    from matplotlib.patches import Rectangle

    start, stop = advice[f"{prefix}start_difference_k"], advice[f"{prefix}stop_difference_k"]
    if start in starts and stop in stops:
        corner = (starts.index(start) - 0.48, stops.index(stop) - 0.48)
        axes.add_patch(Rectangle(corner, 0.96, 0.96, fill=False, edgecolor="black", linewidth=2.5, linestyle=style, label=label))
