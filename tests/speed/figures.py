"""The figures of a ride in numpy, in polars and in DuckDB, from the rows in memory: what docs/review.md says of each.

All three give one flat dictionary, `ride.power.mean` or `block.4.fade.power_w` to a number or None. They are the figures
that the rows alone tell; the program under comparison also reads the session, words, sprints and recoveries in its time.
"""

import numpy as np

from rides import LENGTHS

GAP = 3
HAIR = 1e-9
CHANNELS = {"power": "power_w", "cadence": "cadence_rpm", "heart_rate": "heart_rate_bpm"}
PARTS = ("told", "brake", "legs")
FADES = ("power_w", "cadence_rpm", "torque_nm", "heart_rate_bpm")


def number(value):
    return None if value is None or value != value else float(value)


# numpy

def mean(values):
    known = values[~np.isnan(values)]
    return known.mean() if len(known) else None


def uneven(values):
    known = values[~np.isnan(values)]
    return known.std() / known.mean() if len(known) and known.mean() > 0 else None


def runs_of_nan(values):
    """Where each run of missing values begins and ends."""
    edges = np.diff(np.concatenate(([0], np.isnan(values).astype(np.int8), [0])))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def bridged(values):
    filled = values.copy()
    known = np.flatnonzero(~np.isnan(values))
    for start, end in zip(*runs_of_nan(values)):
        if end - start <= GAP and start > known[0] and end <= known[-1]:
            filled[start:end] = np.interp(np.arange(start, end), known, values[known])
    return filled


def of_numpy(c):
    """`c`: a column's name to its array."""
    told = {}
    power, cadence, heart = c["power_w"], c["cadence_rpm"], c["heart_rate_bpm"]
    for name, column in CHANNELS.items():
        values = c[column]
        start, end = runs_of_nan(values)
        lengths = (end - start)[end - start > GAP]
        told |= {f"ride.{name}.seconds": (~np.isnan(values)).sum(), f"ride.{name}.gaps": len(lengths),
                 f"ride.{name}.longest_gap_s": lengths.max() if len(lengths) else None,
                 f"ride.{name}.mean": mean(values), f"ride.{name}.most": np.nanmax(values)}
    told["ride.work_j"] = np.nansum(np.maximum(power, 0))
    told["ride.unevenness"] = uneven(power)
    told["ride.distance_m"] = c["distance_m"][~np.isnan(c["distance_m"])][-1]
    filled = bridged(power)
    begin, stop = runs_of_nan(np.where(np.isnan(filled), 0.0, np.nan))
    sums = [np.concatenate(([0.0], np.cumsum(filled[a:b]))) for a, b in zip(begin, stop)]
    for length in LENGTHS:
        bests = [(sum[length:] - sum[:-length]).max() for sum in sums if len(sum) > length]
        told[f"ride.best.{length}"] = max(bests) / length if bests else None

    held = (c["mode"] == "target-power") & (c["brake_unit"] == "W")
    commanded = np.where((c["brake_unit"] == "W") & (c["released"] != "true"), c["brake_target"], np.nan)
    lane, could = c["lane_w"], c["brake_could_w"]

    def in_lane(of):
        return np.abs(power - of) <= np.maximum(of * np.where(held, 0.05, 0.09), 4.0) + 1e-9

    inside, inside_told = in_lane(lane), in_lane(commanded)
    margin = np.maximum(np.abs(power) * 0.03, 4.0)
    reach = np.clip(power, could - margin, could + margin)
    parts = np.array([np.where(held, commanded - lane, 0.0), np.where(held, reach - commanded, 0.0),
                      np.where(held, power - reach, power - lane)])
    both = ~np.isnan(lane) & ~np.isnan(power)
    split = both & ~np.isnan(parts).any(axis=0)
    off = both & ~inside
    # The first of equal pulls, whatever their decimals are in binary.
    t, b, l = parts * np.sign(power - lane)
    by = np.where(t + HAIR >= np.maximum(b, l), 0, np.where(b + HAIR >= l, 1, 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        torque = np.where(cadence > 0, power / (cadence * 2 * np.pi / 60), np.nan)
    edges = np.concatenate(([0], np.flatnonzero(np.diff(c["block"])) + 1, [len(power)]))
    for index, (a, b) in enumerate(zip(edges[:-1], edges[1:])):
        at, rows = slice(a, b), b - a
        p, known = power[at], split[at]
        block = {"start_s": c["ridden_s"][a] - 1, "ridden_s": rows, "effort": mean(c["effort"][at]), "power_w": mean(p),
                 "power_s": (~np.isnan(p)).sum(), "unevenness": uneven(p), "w_left_j": c["w_balance_j"][b - 1]}
        for name, values, within in (("fitted", lane, inside), ("commanded", commanded, inside_told)):
            compared = ~np.isnan(values[at]) & ~np.isnan(p)
            block |= {f"{name}.mean_w": mean(values[at]), f"{name}.seconds": (~np.isnan(values[at])).sum(),
                      f"{name}.compared_s": compared.sum(), f"{name}.in_lane_s": (within[at] & compared).sum()}
        block |= {"deviation.seconds": known.sum(), "deviation.mean_w": mean((power - lane)[at][known]),
                  "deviation.off_lane_s": off[at].sum()}
        for number_of, part in enumerate(PARTS):
            block[f"deviation.{part}_w"] = mean(parts[number_of][at][known])
            block[f"deviation.off_by_{part}_s"] = (known & off[at] & (by[at] == number_of)).sum()
        ten = np.convolve(inside[at], np.ones(10, int), "valid") == 10 if rows >= 10 else np.zeros(0, bool)
        block["settle_s"] = ten.argmax() if ten.any() else None
        early = (power - lane)[at][:min(30, rows // 3)]
        three = np.convolve(early, np.ones(3) / 3, "valid") if len(early) >= 3 else np.array([np.nan])
        block["overshoot_w"] = max(0.0, np.nanmax(three)) if not np.isnan(three).all() else None
        if rows >= 60:
            third = (rows - 10) // 3
            for name, values in zip(FADES, (power, cadence, torque, heart)):
                first, last = mean(values[at][10:10 + third]), mean(values[at][rows - third:])
                block[f"fade.{name}"] = None if first is None or last is None else last - first
        r, h = cadence[at], heart[at]
        block |= {"cadence.mean_rpm": mean(r), "cadence.deviation_rpm": np.nanstd(r), "cadence.seconds": (~np.isnan(r)).sum(),
                  "cadence.in_band_s": ((r >= 80) & (r <= 90)).sum(), "heart.mean_bpm": mean(h)}
        first, last = h[:10][~np.isnan(h[:10])], h[-10:][~np.isnan(h[-10:])]
        block |= {"heart.start_bpm": first[0] if len(first) else None, "heart.end_bpm": last[-1] if len(last) else None}
        block["heart.rise_bpm_per_10_min"] = None
        if rows >= 1200 and block["power_s"] >= 0.9 * rows and block["unevenness"] <= 0.10:
            late = ~np.isnan(h[180:])
            x, y = c["ridden_s"][at][180:][late], h[180:][late]
            x = x - x.mean()
            block["heart.rise_bpm_per_10_min"] = (x * (y - y.mean())).sum() / (x * x).sum() * 600
        told |= {f"block.{index}.{key}": value for key, value in block.items()}
    return {key: number(value) for key, value in told.items()}


# polars

def of_polars(frame):
    import polars as pl

    # Not all that follows works on a column of several pieces.
    frame = frame.rechunk()
    col, whole = pl.col, []
    for name, column in CHANNELS.items():
        c = col(column)
        lengths = c.is_null().rle().struct.field("len").filter(c.is_null().rle().struct.field("value"))
        long = lengths.filter(lengths > GAP)
        whole += [c.count().alias(f"{name}.seconds"), long.len().alias(f"{name}.gaps"),
                  long.max().alias(f"{name}.longest_gap_s"), c.mean().alias(f"{name}.mean"), c.max().alias(f"{name}.most")]
    power = col("power_w")
    missing = pl.len().over(power.is_null().rle_id())
    filled = pl.when(power.is_null() & (missing > GAP)).then(None).otherwise(power.interpolate())
    whole += [power.clip(0).sum().alias("work_j"), (power.std(ddof=0) / power.mean()).alias("unevenness"),
              col("distance_m").drop_nulls().last().alias("distance_m")]
    lazy = frame.lazy().with_columns(filled=filled)
    whole += [col("filled").rolling_mean(length, min_samples=length).max().alias(f"best.{length}")
              for length in LENGTHS if length <= frame.height]
    answers = [lazy.select(whole)]

    watts = col("brake_unit") == "W"
    held = watts & (col("mode") == "target-power")
    lane, could = col("lane_w"), col("brake_could_w")

    def in_lane(of):
        return (power - of).abs() <= pl.max_horizontal(of * pl.when(col("held")).then(0.05).otherwise(0.09), 4.0) + 1e-9

    margin = pl.max_horizontal(power.abs() * 0.03, 4.0)
    rows = (lazy.with_columns(held=held, run=col("block").rle_id(),
                              commanded=pl.when(watts & col("released").eq_missing(True).not_()).then(col("brake_target")),
                              reach=power.clip(could - margin, could + margin),
                              torque=pl.when(col("cadence_rpm") > 0).then(power / (col("cadence_rpm") * 2 * np.pi / 60)),
                              above=power - lane)
            .with_columns(inside=in_lane(lane), inside_told=in_lane(col("commanded")),
                          at=pl.int_range(pl.len()).over("run"), rows=pl.len().over("run").cast(pl.Int64),
                          told=pl.when("held").then(col("commanded") - lane).otherwise(0.0),
                          brake=pl.when("held").then(col("reach") - col("commanded")).otherwise(0.0),
                          legs=pl.when("held").then(power - col("reach")).otherwise(col("above")),
                          three=col("above").rolling_mean(3, min_samples=3).over("run"))
            .with_columns(ten=col("inside").fill_null(False).cast(pl.Int32).rolling_sum(10).over("run"),
                          split=col("above").is_not_null() & pl.all_horizontal(col(*PARTS).is_not_null()),
                          off=col("inside").not_().fill_null(False),
                          **{f"pull_{part}": col(part) * col("above").sign() for part in PARTS}))
    t, b, l = (col(f"pull_{part}") for part in PARTS)
    laid_to_told = (t + HAIR >= b) & (t + HAIR >= l)
    by = {"told": laid_to_told, "brake": laid_to_told.not_() & (b + HAIR >= l), "legs": laid_to_told.not_() & (b + HAIR < l)}
    count, at, length = pl.len(), col("at"), col("rows").first()
    third = (length - 10) // 3
    heart, cadence = col("heart_rate_bpm"), col("cadence_rpm")
    late = at.ge(180) & heart.is_not_null()
    x, y = col("ridden_s").filter(late).cast(pl.Float64), heart.filter(late)
    spread = power.std(ddof=0) / power.mean()
    wanted = {"start_s": col("ridden_s").first() - 1, "ridden_s": count, "effort": col("effort").mean(),
              "power_w": power.mean(), "power_s": power.count(), "unevenness": spread, "w_left_j": col("w_balance_j").last()}
    for name, values, within in (("fitted", lane, "inside"), ("commanded", col("commanded"), "inside_told")):
        wanted |= {f"{name}.mean_w": values.mean(), f"{name}.seconds": values.count(),
                   f"{name}.compared_s": (values + power).count(), f"{name}.in_lane_s": col(within).sum()}
    wanted |= {"deviation.seconds": col("split").sum(), "deviation.mean_w": col("above").filter("split").mean(),
               "deviation.off_lane_s": col("off").sum()}
    for part in PARTS:
        wanted |= {f"deviation.{part}_w": col(part).filter("split").mean(),
                   f"deviation.off_by_{part}_s": (col("split") & col("off") & by[part]).sum()}
    wanted |= {"settle_s": at.filter(col("ten") == 10).min() - 9,
               "overshoot_w": col("three").filter(at < pl.min_horizontal(30, length // 3)).max().clip(0)}
    for name, values in zip(FADES, (power, cadence, col("torque"), heart)):
        first, last = values.filter(at.is_between(10, 9 + third)).mean(), values.filter(at >= length - third).mean()
        wanted[f"fade.{name}"] = pl.when(length >= 60).then(last - first)
    steady = (length >= 1200) & (power.count() * 10 >= length * 9) & (spread <= 0.10)
    wanted |= {"cadence.mean_rpm": cadence.mean(), "cadence.deviation_rpm": cadence.std(ddof=0),
               "cadence.seconds": cadence.count(), "cadence.in_band_s": cadence.is_between(80, 90).sum(),
               "heart.mean_bpm": heart.mean(), "heart.start_bpm": heart.filter(at < 10).drop_nulls().first(),
               "heart.end_bpm": heart.filter(at >= length - 10).drop_nulls().last(),
               "heart.rise_bpm_per_10_min": pl.when(steady).then(pl.cov(x, y, ddof=0) / x.var(ddof=0) * 600)}
    answers.append(rows.group_by("run", maintain_order=True).agg(**wanted))
    ride, blocks = pl.collect_all(answers)
    told = {f"ride.{key}": value for key, value in ride.row(0, named=True).items()}
    told |= {f"ride.best.{length}": None for length in LENGTHS if length > frame.height}
    for row in blocks.iter_rows(named=True):
        told |= {f"block.{row['run']}.{key}": value for key, value in row.items()
                 if key != "run" and not (key.startswith("fade") and row["ridden_s"] < 60)}
    return {key: number(value) for key, value in told.items()}


# DuckDB

def in_sql():
    channels = ", ".join(
        f"count({c}) AS \"{n}.seconds\", (SELECT count(*) FROM gaps WHERE name = '{n}') AS \"{n}.gaps\", "
        f"(SELECT max(long) FROM gaps WHERE name = '{n}') AS \"{n}.longest_gap_s\", avg({c}) AS \"{n}.mean\", max({c}) AS \"{n}.most\""
        for n, c in CHANNELS.items())
    gaps = " UNION ALL ".join(
        f"SELECT '{n}' AS name, count(*) AS long FROM (SELECT ridden_s - row_number() OVER (ORDER BY ridden_s) AS g FROM rows "
        f"WHERE {c} IS NULL) GROUP BY g HAVING count(*) > {GAP}" for n, c in CHANNELS.items())
    windows = ", ".join(
        f"CASE WHEN count(p) OVER w{n} = {n} THEN avg(p) OVER w{n} END AS b{n}" for n in LENGTHS)
    frames = ", ".join(f"w{n} AS (ORDER BY ridden_s ROWS BETWEEN {n - 1} PRECEDING AND CURRENT ROW)" for n in LENGTHS)
    bests = ", ".join(f"(SELECT max(b{n}) FROM means) AS \"best.{n}\"" for n in LENGTHS)
    ride = f"""WITH gaps AS ({gaps}),
      near AS (SELECT ridden_s, power_w,
        last_value(power_w IGNORE NULLS) OVER b AS before, last_value(CASE WHEN power_w IS NOT NULL THEN ridden_s END IGNORE NULLS) OVER b AS t0,
        first_value(power_w IGNORE NULLS) OVER a AS after, first_value(CASE WHEN power_w IS NOT NULL THEN ridden_s END IGNORE NULLS) OVER a AS t1
        FROM rows WINDOW b AS (ORDER BY ridden_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
          a AS (ORDER BY ridden_s ROWS BETWEEN CURRENT ROW AND UNBOUNDED FOLLOWING)),
      filled AS (SELECT ridden_s, CASE WHEN power_w IS NOT NULL THEN power_w
        WHEN t1 - t0 - 1 <= {GAP} THEN before + (after - before) * (ridden_s - t0) / (t1 - t0) END AS p FROM near),
      means AS (SELECT {windows} FROM filled WINDOW {frames})
      SELECT {channels}, sum(greatest(power_w, 0)) AS work_j, stddev_pop(power_w) / avg(power_w) AS unevenness,
        arg_max(distance_m, ridden_s) AS distance_m, {bests} FROM rows"""

    def in_lane(of):
        return f"(abs(power_w - {of}) <= greatest({of} * CASE WHEN held THEN 0.05::DOUBLE ELSE 0.09::DOUBLE END, 4.0) + 1e-9)"

    layers = ", ".join(
        f"avg({c}) AS \"{n}.mean_w\", count({c}) AS \"{n}.seconds\", count({c} + power_w) AS \"{n}.compared_s\", "
        f"count(*) FILTER ({i}) AS \"{n}.in_lane_s\"" for n, c, i in (("fitted", "lane_w", "inside"), ("commanded", "commanded", "inside_told")))
    of_told, of_brake = f"t + {HAIR} >= greatest(b, l)", f"b + {HAIR} >= l"
    by = {"told": of_told, "brake": f"NOT ({of_told}) AND {of_brake}", "legs": f"NOT ({of_told}) AND NOT ({of_brake})"}
    parts = ", ".join(f"avg({p}) FILTER (split) AS \"deviation.{p}_w\", "
                      f"count(*) FILTER (split AND NOT inside AND {by[p]}) AS \"deviation.off_by_{p}_s\"" for p in PARTS)
    fades = ", ".join(
        f"CASE WHEN count(*) >= 60 THEN avg({c}) FILTER (place >= rows - (rows - 10) // 3) - "
        f"avg({c}) FILTER (place >= 10 AND place < 10 + (rows - 10) // 3) END AS \"fade.{n}\""
        for n, c in zip(FADES, ("power_w", "cadence_rpm", "torque", "heart_rate_bpm")))
    blocks = f"""WITH one AS (SELECT *, brake_unit = 'W' AND mode = 'target-power' AS held,
        CASE WHEN brake_unit = 'W' AND released IS DISTINCT FROM true THEN brake_target END AS commanded,
        CASE WHEN cadence_rpm > 0 THEN power_w / (cadence_rpm * 2 * pi() / 60) END AS torque, power_w - lane_w AS above,
        greatest(brake_could_w - greatest(abs(power_w) * 0.03::DOUBLE, 4.0),
          least(brake_could_w + greatest(abs(power_w) * 0.03::DOUBLE, 4.0), power_w)) AS drawn,
        row_number() OVER (PARTITION BY block ORDER BY ridden_s) - 1 AS place, count(*) OVER (PARTITION BY block) AS rows FROM rows),
      reached AS (SELECT *, CASE WHEN power_w IS NOT NULL AND brake_could_w IS NOT NULL THEN drawn END AS reach FROM one),
      two AS (SELECT *, {in_lane('lane_w')} AS inside, {in_lane('commanded')} AS inside_told,
        CASE WHEN held THEN commanded - lane_w ELSE 0 END AS told, CASE WHEN held THEN reach - commanded ELSE 0 END AS brake,
        CASE WHEN held THEN power_w - reach ELSE above END AS legs FROM reached),
      three AS (SELECT *, above + told + brake + legs IS NOT NULL AS split, told * sign(above) AS t,
        brake * sign(above) AS b, legs * sign(above) AS l,
        CASE WHEN count(above) OVER o3 = 3 THEN avg(above) OVER o3 END AS over3,
        sum(inside::INT) OVER o10 AS ten FROM two
        WINDOW o3 AS (PARTITION BY block ORDER BY ridden_s ROWS BETWEEN 2 PRECEDING AND CURRENT ROW),
          o10 AS (PARTITION BY block ORDER BY ridden_s ROWS BETWEEN 9 PRECEDING AND CURRENT ROW))
      SELECT min(ridden_s) - 1 AS start_s, count(*) AS ridden_s, avg(effort) AS effort, avg(power_w) AS power_w,
        count(power_w) AS power_s, stddev_pop(power_w) / avg(power_w) AS unevenness, arg_max(w_balance_j, ridden_s) AS w_left_j,
        {layers}, count(*) FILTER (split) AS "deviation.seconds", avg(above) FILTER (split) AS "deviation.mean_w",
        count(*) FILTER (NOT inside) AS "deviation.off_lane_s", {parts}, min(place) FILTER (ten = 10) - 9 AS settle_s,
        greatest(max(over3) FILTER (place < least(30, rows // 3)), 0) AS overshoot_w, {fades},
        avg(cadence_rpm) AS "cadence.mean_rpm", stddev_pop(cadence_rpm) AS "cadence.deviation_rpm",
        count(cadence_rpm) AS "cadence.seconds", count(*) FILTER (cadence_rpm BETWEEN 80 AND 90) AS "cadence.in_band_s",
        avg(heart_rate_bpm) AS "heart.mean_bpm",
        arg_min(heart_rate_bpm, ridden_s) FILTER (place < 10 AND heart_rate_bpm IS NOT NULL) AS "heart.start_bpm",
        arg_max(heart_rate_bpm, ridden_s) FILTER (place >= rows - 10 AND heart_rate_bpm IS NOT NULL) AS "heart.end_bpm",
        CASE WHEN count(*) >= 1200 AND count(power_w) * 10 >= count(*) * 9 AND stddev_pop(power_w) / avg(power_w) <= 0.10
          THEN regr_slope(heart_rate_bpm, ridden_s) FILTER (place >= 180) * 600 END AS "heart.rise_bpm_per_10_min"
      FROM three GROUP BY block ORDER BY block"""
    return ride, blocks


def of_duckdb(connection):
    """Of its table `rows`."""
    statements = in_sql()
    answer = connection.execute(statements[0])
    names = [column[0] for column in answer.description]
    told = {f"ride.{name}": value for name, value in zip(names, answer.fetchone())}
    answer = connection.execute(statements[1])
    names = [column[0] for column in answer.description]
    for index, row in enumerate(answer.fetchall()):
        block = dict(zip(names, row))
        told |= {f"block.{index}.{key}": value for key, value in block.items()
                 if not (key.startswith("fade") and block["ridden_s"] < 60)}
    return {key: number(value) for key, value in told.items()}
