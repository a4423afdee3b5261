//! Tables as the room draws them: figures under one another, and where a table is too wide, in parts one under the other,
//! each with the column that names its rows. Nothing is left out.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};

use super::draw::one_line;
use super::sheet::{heading, place};
use crate::review::tables::Shown;
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name, text};

/// The columns of each part of a table, by their widths and the room there is. The first column that holds text names the
/// rows and stands in each.
fn parts(widths: &[f32], named: usize, room: f32) -> Vec<Vec<usize>> {
    let mut parts: Vec<Vec<usize>> = Vec::new();
    let own = widths.get(named).copied().unwrap_or(0.0);
    let mut used = 0.0;
    for (column, wide) in widths.iter().enumerate() {
        if column == named {
            continue;
        }
        if parts.is_empty()
            || (used + wide > room && parts.last().is_some_and(|part| part.len() > 1))
        {
            parts.push(vec![named]);
            used = own;
        }
        used += wide;
        if let Some(part) = parts.last_mut() {
            part.push(column);
        }
    }
    if parts.is_empty() && !widths.is_empty() {
        parts.push(vec![named]);
    }
    parts
}

/// Draws a table as wide as `width` at most.
pub(super) fn show(ui: &mut Ui, table: &Shown, width: f32, look: Look) {
    heading(ui, &table.title, width, look);
    let colours = look.colours;
    let font = regular(look.pt(size::NOTE));
    let gap = look.pt(16.0);
    let line = look.pt(24.0).round();
    let named = table.left.first().copied().unwrap_or(0);
    // The column that names the rows may be cut, since its words stand in full in the first part.
    let most = width * 0.42;
    let widths: Vec<f32> = (0..table.heads.len())
        .map(|column| {
            let cells = std::iter::once(&table.heads).chain(&table.rows);
            let cells = cells.filter_map(|row| row.get(column));
            let wide = cells.map(|cell| {
                ui.painter()
                    .layout_no_wrap(cell.clone(), font.clone(), colours.ink)
                    .size()
                    .x
            });
            // Words that stand left behind a figure that stands right keep clear of it.
            let clear = if table.left.contains(&column) && column != named {
                gap
            } else {
                0.0
            };
            let wide = wide.fold(0.0, f32::max) + gap + clear;
            if column == named {
                wide.min(most)
            } else {
                wide
            }
        })
        .collect();
    for (number, part) in parts(&widths, named, width).into_iter().enumerate() {
        let cells = |ui: &Ui, at: Rect, row: &[String], colour| {
            let mut left = at.left();
            for &column in &part {
                let wide = widths[column];
                let inner = if table.left.contains(&column) && column != named {
                    gap
                } else {
                    0.0
                };
                let place = Rect::from_min_size(
                    pos2(left + inner, at.top()),
                    vec2(wide - gap * 0.5 - inner, line),
                );
                let words = row.get(column).map_or("", String::as_str);
                let galley = one_line(ui, words, font.clone(), place.width(), colour);
                let anchor = if table.left.contains(&column) {
                    Align2::LEFT_CENTER
                } else {
                    Align2::RIGHT_CENTER
                };
                text::place(ui.painter(), galley, place, anchor, colour);
                left += wide;
            }
        };
        let wide: f32 = part.iter().map(|&column| widths[column]).sum();
        let wide = wide.min(width);
        let head = place(ui, width, line + look.pt(4.0));
        if ui.is_rect_visible(head) {
            cells(ui, head, &table.heads, colours.quiet);
            let stroke = Stroke::new(look.pt(1.5), colours.quiet);
            ui.painter().hline(
                head.left()..=head.left() + wide,
                head.bottom() - look.pt(3.0),
                stroke,
            );
        }
        for (index, row) in table.rows.iter().enumerate() {
            let at = place(ui, width, line);
            if !ui.is_rect_visible(at) {
                continue;
            }
            cells(ui, at, row, colours.ink);
            let stroke = Stroke::new(look.pt(1.0), colours.rule);
            ui.painter()
                .hline(at.left()..=at.left() + wide, at.bottom(), stroke);
            if number == 0 {
                name(
                    ui,
                    at,
                    &say!(
                        "{title}, row {number}",
                        title = table.title,
                        number = index + 1
                    ),
                    &spoken(table, row),
                );
            }
        }
    }
    if !table.note.is_empty() {
        let colour = colours.quiet;
        let small = regular(look.pt(size::NOTE - 1.0));
        let wide = width.min(look.pt(size::NOTE) * 48.0);
        let galley = ui
            .painter()
            .layout(table.note.to_owned(), small, colour, wide);
        let at = place(ui, width, galley.size().y + look.pt(10.0));
        text::place(ui.painter(), galley, at, Align2::LEFT_CENTER, colour);
    }
}

/// A row in words: each figure behind the head of its column.
fn spoken(table: &Shown, row: &[String]) -> String {
    let cells = table.heads.iter().zip(row);
    let cells = cells.map(|(head, cell)| format!("{head} {cell}"));
    cells.collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wide_table_stands_in_parts_with_its_names_in_each() {
        let widths = [10.0, 40.0, 30.0, 30.0, 30.0];
        assert_eq!(parts(&widths, 1, 200.0), [vec![1, 0, 2, 3, 4]]);
        // 40 for the names, 10 and 30 beside them; the next 30 would pass 100.
        assert_eq!(parts(&widths, 1, 100.0), [vec![1, 0, 2], vec![1, 3, 4]]);
        // A column that is wider than the room stands alone, and none is lost.
        assert_eq!(
            parts(&[40.0, 500.0, 10.0], 0, 100.0),
            [vec![0, 1], vec![0, 2]]
        );
        assert_eq!(parts(&[40.0], 0, 100.0), [vec![0]]);
        assert!(parts(&[], 0, 100.0).is_empty());
    }
}
