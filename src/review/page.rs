//! The review as one page to read and to print: everything in one file, no script, nothing fetched.

use super::said;
use super::strip::strips;
use super::suggest::suggestions;
use super::tables::{Shown, tables};
use super::words::{heading, plain, sentences};
use super::{Asked, Recording, Review};

/// Paper, ink and lane as the window has them on its light ground.
const STYLE: &str = "
@page { size: A4; margin: 13mm 12mm; }
:root { --ground: #faf6ec; --ink: #15161a; --lane: #e8e1d0; --edge: #3a3831; --quiet: #4b483f; --above: #7d3c00; \
--below: #004f85; --rule: #e6e0d2; }
* { box-sizing: border-box; }
html { background: var(--ground); }
body { margin: 0 auto; padding: 6mm; max-width: 192mm; color: var(--ink); background: var(--ground); \
font: 10.5pt/1.45 'B612', 'DejaVu Sans', Verdana, sans-serif; }
h1 { font-size: 20pt; line-height: 1.15; margin: 0 0 1mm; }
h2 { font-size: 11.5pt; margin: 6mm 0 1.5mm; }
p { margin: 0 0 1.8mm; max-width: 165mm; }
.quiet, .note { color: var(--quiet); }
.note { font-size: 8.5pt; margin-top: 1mm; }
figure { margin: 4mm 0; }
svg { display: block; width: 100%; height: auto; }
.rule { stroke: var(--rule); fill: none; }
.beat { stroke: var(--edge); stroke-width: .6; stroke-dasharray: 1 3; fill: none; }
.lane { fill: var(--lane); stroke: none; }
.edge { stroke: var(--edge); stroke-width: .8; fill: none; }
.ink { stroke: var(--ink); stroke-width: 2.2; stroke-linejoin: round; stroke-linecap: round; fill: none; }
.ink.thin { stroke-width: 1.3; }
.ink.above { stroke: var(--above); }
.ink.below { stroke: var(--below); }
.mark.above { fill: var(--above); }
.mark.below { fill: var(--below); }
.scale, .clock { font-size: 13px; fill: var(--quiet); }
.scale { text-anchor: end; }
.clock { text-anchor: middle; }
section { break-inside: avoid; }
section.long { break-inside: auto; }
tr { break-inside: avoid; }
thead { display: table-header-group; }
table { border-collapse: collapse; font-size: 8.3pt; line-height: 1.3; font-variant-numeric: tabular-nums; width: 100%; }
th { text-align: right; font-weight: normal; color: var(--quiet); border-bottom: .4mm solid var(--edge); \
vertical-align: bottom; padding: .6mm 1mm; }
td { text-align: right; border-bottom: .2mm solid var(--rule); padding: .6mm 1mm; white-space: nowrap; }
th.text, td.text { text-align: left; white-space: normal; }
article + article { break-before: page; margin-top: 12mm; }
@media print { body { padding: 0; max-width: none; } html, body { background: #fff; -webkit-print-color-adjust: exact; \
print-color-adjust: exact; } }
";

/// The page of one ride or several.
pub fn page(rides: &[(Recording<'_>, Review)]) -> String {
    let title = match rides {
        [(_, one)] => plain(&one.session),
        _ => word!("Rides").to_owned(),
    };
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width\">\n<title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n",
        crate::text::language().code(),
        safe(&title)
    );
    for (recording, review) in rides {
        page += &article(recording, review);
    }
    page += "</body>\n</html>\n";
    page
}

fn article(recording: &Recording<'_>, review: &Review) -> String {
    let mut text = format!(
        "<article>\n<h1>{}</h1>\n<p class=\"quiet\">{}</p>\n",
        safe(&plain(&review.session)),
        safe(&heading(review))
    );
    let asked = Asked::of(recording.start);
    for strip in strips(recording, &asked, &review.blocks) {
        text += &format!("<figure>\n{strip}</figure>\n");
    }
    // These words are the program's own, with nothing in them that a page takes for markup.
    text += &format!(
        "<p class=\"note\">{}</p>\n",
        word!(
            "Up: effort out of ten, watts by this rider's own map. Pale: the lane asked for. Thick: ridden; off the lane it \
             changes colour, and a mark points the way back. Below: cadence and its band, rpm."
        )
    );
    let mut lines = |title: &str, lines: &[String]| {
        if !lines.is_empty() {
            text += &format!("<section>\n<h2>{title}</h2>\n");
            for line in lines {
                text += &format!("<p>{}</p>\n", safe(line));
            }
            text += "</section>\n";
        }
    };
    lines(word!("What happened"), &sentences(review));
    lines(word!("Said and noted"), &said::sentences(review));
    lines(word!("For the next ride"), &suggestions(review));
    lines(word!("What is missing"), &review.missing);
    for table in tables(review) {
        text += &shown(&table);
    }
    text += "</article>\n";
    text
}

fn shown(table: &Shown) -> String {
    let class = |column: usize| {
        if table.left.contains(&column) {
            " class=\"text\""
        } else {
            ""
        }
    };
    let row = |cells: &[String], tag: &str| {
        let cells = cells.iter().enumerate();
        let cells =
            cells.map(|(column, cell)| format!("<{tag}{}>{}</{tag}>", class(column), safe(cell)));
        format!("<tr>{}</tr>\n", cells.collect::<String>())
    };
    let long = if table.rows.len() > 20 {
        " class=\"long\""
    } else {
        ""
    };
    let rows: String = table.rows.iter().map(|cells| row(cells, "td")).collect();
    format!(
        "<section{long}>\n<h2>{}</h2>\n<table>\n<thead>\n{}</thead>\n<tbody>\n{rows}</tbody>\n</table>\n<p \
         class=\"note\">{}</p>\n</section>\n",
        safe(&table.title),
        row(&table.heads, "th"),
        safe(table.note)
    )
}

/// Text that the page cannot take for markup.
pub(super) fn safe(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe += "&amp;",
            '<' => safe += "&lt;",
            '>' => safe += "&gt;",
            '"' => safe += "&quot;",
            '\'' => safe += "&#39;",
            other => safe.push(other),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_becomes_markup() {
        assert_eq!(
            safe("<b>\"A&B's\"</b>"),
            "&lt;b&gt;&quot;A&amp;B&#39;s&quot;&lt;/b&gt;"
        );
    }
}
