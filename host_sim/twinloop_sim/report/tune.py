"""The picture of a sweep: net heat over both differences, and what each flow brings."""

import numpy as np

SIZE_IN, PX_PER_INCH = (15.0, 6.5), 100


def write_heat_map(path, facts):
    """Write the picture of a sweep as a PNG of 1500 x 650 pixels. Raises: OSError."""
    from matplotlib.figure import Figure

    picture = Figure(figsize=SIZE_IN, dpi=PX_PER_INCH)
    grid = picture.add_gridspec(3, 2, width_ratios=(2.2, 1.0))
    draw_pairs(picture, picture.add_subplot(grid[:, 0]), facts)
    draw_flows([picture.add_subplot(grid[row, 1]) for row in range(3)], facts)
    picture.tight_layout()
    picture.savefig(path, format="png")


def draw_pairs(picture, axes, facts):
    """Draw the map of the advised flow."""
    found = facts["advice"]
    rows = [row for row in facts["grid"] if row["flow_share"] == found["flow_share"]]
    starts = sorted({row["start_difference_k"] for row in rows})
    stops = sorted({row["stop_difference_k"] for row in rows})
    net = np.full((len(stops), len(starts)), np.nan)
    for row in rows:
        net[stops.index(row["stop_difference_k"]), starts.index(row["start_difference_k"])] = row["net_kwh"]
    image = axes.imshow(net, origin="lower", aspect="auto", cmap="cividis")
    picture.colorbar(image, ax=axes, label="net heat, kWh")
    axes.set_xticks(range(len(starts)), [f"{start:g}" for start in starts])
    axes.set_yticks(range(len(stops)), [f"{stop:g}" for stop in stops])
    axes.set_xlabel("start_difference, K")
    axes.set_ylabel("stop_difference, K")
    middle = (np.nanmin(net) + np.nanmax(net)) / 2.0
    for row in rows:
        place = starts.index(row["start_difference_k"]), stops.index(row["stop_difference_k"])
        text = f"{row['net_kwh']:.1f} kWh\n{row['starts_per_day']:.1f} per day" + ("\nunsafe" if row["violations"] else "")
        axes.text(*place, text, ha="center", va="center", fontsize=8, color="white" if row["net_kwh"] < middle else "black")
    mark(axes, starts, stops, found, "now_", "--", "present differences")
    mark(axes, starts, stops, found, "", "-", "advice")
    flow = f"{found['collector_flow_l_per_min']:.2f} L/min"
    axes.set_title(f"{facts['scenario']}: net heat into the tank at {flow}, and starts per day", parse_math=False)
    axes.legend(loc="upper left", bbox_to_anchor=(0.0, -0.12), ncols=2, frameon=False)


def mark(axes, starts, stops, advice, prefix, style, label):
    """Frame one pair; does nothing when it lies outside the map."""
    from matplotlib.patches import Rectangle

    start, stop = advice[f"{prefix}start_difference_k"], advice[f"{prefix}stop_difference_k"]
    if start in starts and stop in stops:
        corner = (starts.index(start) - 0.48, stops.index(stop) - 0.48)
        axes.add_patch(Rectangle(corner, 0.96, 0.96, fill=False, edgecolor="black", linewidth=2.5, linestyle=style, label=label))


def draw_flows(panels, facts):
    """Draw what each flow brings and takes with its own best pair; the advised flow has a line."""
    flows = [row["collector_flow_l_per_min"] for row in facts["flows"]]
    advised = facts["advice"]["collector_flow_l_per_min"]
    for axes, (key, label) in zip(
        panels, (("to_tank_kwh", "heat, kWh"), ("pump_mains_kwh", "pumps, kWh"), ("starts_per_day", "starts per day")), strict=True
    ):
        axes.plot(flows, [row[key] for row in facts["flows"]], "o-", color="black")
        axes.axvline(advised, color="grey", linewidth=1.0)
        axes.set_ylim(0.0, 1.15 * max(row[key] for row in facts["flows"]) or 1.0)
        axes.set_ylabel(label)
        axes.grid(color="#E2E2E2")
    panels[0].set_title("each flow with its own best pair")
    panels[-1].set_xlabel("collector_flow, L/min (line: advice)")
