//! The cue sheet: one or two pages to print and to lead from, a column for each speaker. No script, nothing fetched.

use crate::plan::{Plan, Timing};

/// Everybody who is named in no cue.
fn anybody() -> &'static str {
    word!("Leader")
}

/// More columns than this nobody could read on a sheet: the rest speak in the last one, named before their words.
const MOST_SPEAKERS: usize = 4;

/// The sizes of type that are tried, points: as large as two pages have room for, and no smaller than can be read on the
/// bars by a lamp (common practice, no source).
const SIZES: [f64; 6] = [11.0, 10.0, 9.0, 8.2, 7.6, 7.0];

/// An A4 page less its margins, in points: 297 by 210 mm less 11 mm on each side.
const PAGE_HIGH: f64 = 779.0;
const PAGE_WIDE: f64 = 533.0;

/// A letter is so wide, a line so high, as a share of the size: DejaVu Sans, the widest of the faces named below.
const LETTER: f64 = 0.56;
const LINE: f64 = 1.32;

/// The share of the width that the two columns of time take.
const TIMES: f64 = 0.15;

const STYLE: &str = "
@page { size: A4; margin: 11mm; }
* { box-sizing: border-box; }
html { background: #faf6ec; }
body { margin: 0 auto; padding: 6mm; max-width: 200mm; color: #15161a; background: #faf6ec; \
font-family: 'B612', 'DejaVu Sans', Verdana, sans-serif; line-height: 1.32; }
h1 { font-size: 1.7em; line-height: 1.15; margin: 0 0 .2em; }
p { margin: 0 0 .6em; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; font-variant-numeric: tabular-nums; }
col.time { width: 7.5%; }
thead { display: table-header-group; }
th, td { text-align: left; vertical-align: top; padding: .14em .5em .14em 0; overflow-wrap: anywhere; }
thead th { font-weight: normal; color: #4b483f; border-bottom: .4mm solid #3a3831; }
tr { break-inside: avoid; }
tr.block th { border-top: .3mm solid #3a3831; background: #e8e1d0; padding-left: .3em; }
tr.block { break-after: avoid; }
tr.block span { font-weight: normal; }
td { border-bottom: .15mm solid #e6e0d2; }
td.time { color: #4b483f; }
@media print { body { max-width: none; padding: 0; } html, body { background: #fff; -webkit-print-color-adjust: exact; print-color-adjust: exact; } }
";

/// The sheet of a session as it was written.
pub fn sheet(plan: &Plan) -> String {
    let rows = plan.timing();
    let speakers = speakers(&rows);
    let size = SIZES
        .into_iter()
        .find(|&size| high(plan, &rows, &speakers, size) <= 2.0 * PAGE_HIGH)
        .unwrap_or(SIZES[SIZES.len() - 1]);
    let reads = crate::text::language();
    // A reader that speaks shall say the session's words in the session's language.
    let own = if plan.language == reads {
        String::new()
    } else {
        format!(" lang=\"{}\"", plan.language.code())
    };
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\">\n<title>{name}</title>\n<style>{STYLE}body {{ \
         font-size: {size}pt; }}\n</style>\n</head>\n<body>\n<h1{own}>{name}</h1>\n<p>{purpose} {length}</p>\n<table>\n",
        language = reads.code(),
        name = escape(&plan.name),
        purpose = match own.as_str() {
            "" => escape(&plan.purpose),
            own => format!("<span{own}>{}</span>", escape(&plan.purpose)),
        },
        length = say!("{length} in all.", length = plan.length()),
    );
    page.push_str("<colgroup><col class=\"time\"><col class=\"time\">");
    page.push_str(&"<col>".repeat(speakers.len()));
    page.push_str(&format!(
        "</colgroup>\n<thead><tr><th>{}</th><th>{}</th>",
        word!("at" # "of a time"),
        word!("left" # "of a time")
    ));
    for speaker in &speakers {
        page.push_str(&format!("<th>{}</th>", escape(speaker)));
    }
    page.push_str(&format!("</tr></thead>\n<tbody{own}>\n"));
    for row in &rows {
        block(&mut page, row, &speakers);
    }
    page.push_str("</tbody>\n</table>\n</body>\n</html>\n");
    page
}

/// A block's line and its cues.
fn block(page: &mut String, row: &Timing, speakers: &[String]) {
    page.push_str(&format!(
        "<tr class=\"block\"><th colspan=\"{}\">{} {} <span>{}</span></th></tr>\n",
        speakers.len() + 2,
        row.start,
        escape(&row.name),
        escape(&asks(row)),
    ));
    let end = row.start + row.length;
    for cue in row.cues.iter().filter(|cue| cue.at < end) {
        page.push_str(&format!(
            "<tr><td class=\"time\">{}</td><td class=\"time\">{}</td>",
            cue.at,
            end.less(cue.at)
        ));
        let (column, named) = column_of(cue.speaker.as_deref(), speakers);
        for index in 0..speakers.len() {
            let words = if index == column {
                format!("{}{}", escape(&named), escape(&cue.says))
            } else {
                String::new()
            };
            page.push_str(&format!("<td>{words}</td>"));
        }
        page.push_str("</tr>\n");
    }
}

/// What a block asks for, in a line: how long, how hard, how fast, how to sit.
fn asks(row: &Timing) -> String {
    let mut asks = vec![row.length.to_string(), row.target.clone()];
    if !row.cadence.is_empty() {
        asks.push(row.cadence.clone());
    }
    match row.position {
        "own-choice" => {}
        "seated" => asks.push(word!("seated").to_owned()),
        "standing" => asks.push(word!("standing").to_owned()),
        "low" => asks.push(word!("low" # "of a position").to_owned()),
        other => asks.push(other.to_owned()),
    }
    asks.join(", ")
}

/// The columns, in the order in which their speakers are first heard.
fn speakers(rows: &[Timing]) -> Vec<String> {
    let mut speakers: Vec<String> = Vec::new();
    for cue in rows.iter().flat_map(|row| &row.cues) {
        let name = cue.speaker.as_deref().unwrap_or(anybody());
        if speakers.len() < MOST_SPEAKERS && !speakers.iter().any(|known| known == name) {
            speakers.push(name.to_owned());
        }
    }
    if speakers.is_empty() {
        speakers.push(anybody().to_owned());
    }
    speakers
}

/// The column of a speaker, and their name before their words where it is not their own.
fn column_of(speaker: Option<&str>, speakers: &[String]) -> (usize, String) {
    let name = speaker.unwrap_or(anybody());
    match speakers.iter().position(|known| known == name) {
        Some(column) => (column, String::new()),
        None => (speakers.len() - 1, format!("{name}: ")),
    }
}

/// How high the whole is at a size of type, points: reckoned from letters, on the safe side.
fn high(plan: &Plan, rows: &[Timing], speakers: &[String], size: f64) -> f64 {
    let lines = |text: &str, wide: f64| {
        let letters = (wide / (size * LETTER)).floor().max(1.0);
        (text.chars().count() as f64 / letters).ceil().max(1.0)
    };
    let column = PAGE_WIDE * (1.0 - TIMES) / speakers.len() as f64 - size * 0.5;
    let row_high = |lines: f64| lines * size * LINE + size * 0.45;
    let head = row_high(lines(&plan.purpose, PAGE_WIDE)) + size * 5.0;
    let body: f64 = rows
        .iter()
        .map(|row| {
            let title = lines(
                &format!("{} {} {}", row.start, row.name, asks(row)),
                PAGE_WIDE,
            );
            let cues: f64 = row
                .cues
                .iter()
                .map(|cue| row_high(lines(&cue.says, column)))
                .sum();
            row_high(title) + cues
        })
        .sum();
    // What no longer fits at a page's foot goes over to the next, and the head is printed again.
    head + body + size * 8.0
}

/// Text as a page shows it, whatever is in it.
fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            control if control.is_control() => escaped.push(' '),
            other => escaped.push(other),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::plan::{builtin, read};

    #[test]
    fn each_speaker_has_a_column_and_each_cue_stands_in_its_own() {
        let (_, text) = builtin()
            .iter()
            .find(|(key, _)| *key == "group-ride")
            .unwrap();
        let plan = read(text).plan.unwrap();
        let page = sheet(&plan);
        assert!(page.contains("<th>North lamp</th><th>South lamp</th>"));
        // "Whoever is new" is the South lamp's, at a minute and a half of ten.
        assert!(page.contains(
            "<tr><td class=\"time\">1:30</td><td class=\"time\">8:30</td><td></td><td>Whoever is new"
        ));
    }

    #[test]
    fn what_is_in_a_session_is_never_markup() {
        let text = "format = 1\nname = \"<script>x</script>\"\npurpose = \"a & b\"\nauthor = \"a\"\n[[block]]\nkind = \
                    \"warm-up\"\ntime = \"1:00\"\neffort = 3\n[[block.cue]]\nat = \"0:10\"\nkind = \"do\"\nspeaker = \
                    \"<b>\"\nsay = \"\\\"<i>\"\n";
        let page = sheet(&read(text).plan.unwrap());
        assert!(!page.contains("<script") && !page.contains("<i>") && !page.contains("<b>"));
        assert!(page.contains("&lt;script&gt;") && page.contains("a &amp; b"));
    }

    #[test]
    fn more_speakers_than_columns_are_named_in_the_last() {
        let speakers: Vec<String> = ["A", "B", "C", "D"].map(str::to_owned).to_vec();
        assert_eq!(column_of(Some("C"), &speakers), (2, String::new()));
        assert_eq!(column_of(Some("E"), &speakers), (3, "E: ".to_owned()));
    }
}
