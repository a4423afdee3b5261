//! The class sheet: riders as rows, blocks as columns, one page to print.

use super::compare::{Cell, Comparison};
use crate::review::page::safe;
use crate::review::words::{DASH, clock, number, per_cent, plain};
use crate::rider::called;

/// So many columns stand in one table; a session of more blocks has several, one under the other.
const COLUMNS: usize = 12;

const STYLE: &str = "
@page { size: A4 landscape; margin: 11mm; }
:root { --ground: #faf6ec; --ink: #15161a; --edge: #3a3831; --quiet: #4b483f; --rule: #e6e0d2; }
* { box-sizing: border-box; }
html { background: var(--ground); }
body { margin: 0 auto; padding: 5mm; max-width: 275mm; color: var(--ink); background: var(--ground); \
font: 9.5pt/1.35 'B612', 'DejaVu Sans', Verdana, sans-serif; }
h1 { font-size: 17pt; margin: 0 0 1mm; }
p { margin: 0 0 2mm; color: var(--quiet); font-size: 8.5pt; }
table { border-collapse: collapse; width: 100%; font-size: 8pt; font-variant-numeric: tabular-nums; margin: 3mm 0; }
th { font-weight: normal; color: var(--quiet); text-align: right; vertical-align: bottom; \
border-bottom: .4mm solid var(--edge); padding: .8mm 1.2mm; }
td { text-align: right; vertical-align: top; border-bottom: .2mm solid var(--rule); padding: .8mm 1.2mm; }
td.who, th.who { text-align: left; }
td span { display: block; color: var(--quiet); font-size: 7pt; }
tr { break-inside: avoid; }
@media print { body { padding: 0; max-width: none; } html, body { background: #fff; -webkit-print-color-adjust: exact; \
print-color-adjust: exact; } }
";

/// The page. Every text of a recording is made safe for it; nothing is fetched, and there is no script.
pub fn class_sheet(comparison: &Comparison) -> String {
    let mut sessions: Vec<String> = comparison
        .rides
        .iter()
        .map(|ride| plain(&ride.session))
        .collect();
    sessions.dedup();
    let title = match sessions.as_slice() {
        [one] => one.clone(),
        _ => word!("Class sheet").to_owned(),
    };
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width\">\n<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{title}</h1>\n",
        language = crate::text::language().code(),
        title = safe(&title)
    );
    // These words are the program's own, here and below, with nothing in them that a page takes for markup.
    page += &format!(
        "<p>{}</p>\n",
        word!(
            "Each cell: mean power as a share of the rider's own threshold; under it the time in the lane, the cadence, and what \
             it was rated. ½: ridden in part. e: the load was eased. A dash is not known."
        )
    );
    if sessions.len() > 1 {
        page += &format!(
            "<p>{}</p>\n",
            word!(
                "These are recordings of different sessions: blocks of one name stand in one column."
            )
        );
    }
    for blocks in comparison.blocks.chunks(COLUMNS) {
        page += &format!(
            "<table>\n<thead>\n<tr><th class=\"who\">{}</th>",
            word!("rider" # "a column")
        );
        for block in blocks {
            page += &format!("<th>{}</th>", safe(&block.name));
        }
        page += &format!(
            "<th>{}</th></tr>\n</thead>\n<tbody>\n",
            word!("whole ride" # "a column")
        );
        for (index, ride) in comparison.rides.iter().enumerate() {
            let day = ride.started.get(..10).unwrap_or(&ride.started);
            page += &format!(
                "<tr><td class=\"who\">{}<span>{}, {} W{}</span></td>",
                safe(&plain(called(&ride.rider))),
                safe(day),
                number(Some(ride.threshold_w), 0),
                if ride.simulated {
                    word!(", practice devices")
                } else {
                    ""
                }
            );
            for block in blocks {
                page += &block.each[index]
                    .as_ref()
                    .map_or_else(|| "<td></td>".to_owned(), shown);
            }
            page += &format!(
                "<td>{}<span>{}</span></td></tr>\n",
                clock(ride.ridden_s as f64),
                rated(ride.rating)
            );
        }
        page += "</tbody>\n</table>\n";
    }
    page += "</body>\n</html>\n";
    page
}

fn rated(rating: Option<f64>) -> String {
    format!(
        "{} {}",
        word!("rated" # "before a figure"),
        number(rating, 0)
    )
}

fn shown(cell: &Cell) -> String {
    let marks = match (cell.whole, cell.eased) {
        (true, true) => word!(" e"),
        (true, false) => "",
        (false, true) => word!(" ½ e"),
        (false, false) => " ½",
    };
    let mut under = vec![match cell.in_lane {
        Some(share) => say!("{share} in lane", share = per_cent(Some(share), 0)),
        None => say!("{share} in lane", share = DASH),
    }];
    if let Some(rpm) = cell.cadence_rpm {
        under.push(format!("{} rpm", number(Some(rpm), 0)));
    }
    if let Some(rating) = cell.rating {
        under.push(rated(Some(rating)));
    }
    let under: String = under
        .iter()
        .map(|words| format!("<span>{words}</span>"))
        .collect();
    format!(
        "<td>{}{marks}{under}</td>",
        per_cent(cell.share_of_threshold, 0)
    )
}
