//! Over rides: the load of weeks as bars, and the effort map with what the rider's ratings say of it.

use egui::{Align2, Button, Rect, RichText, Role, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::MapShown;
use super::sheet::{heading, paragraph, place};
use crate::review::over::weeks::Week;
use crate::review::words::{clock, number};
use crate::rider::EffortMap;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name};

/// Draws the weeks: load as bars, with the time ridden under them.
pub(super) fn weeks(ui: &mut Ui, weeks: &[Week], width: f32, look: Look) {
    heading(ui, word!("Weeks: rating × minutes"), width, look);
    let colours = look.colours;
    let note = look.pt(size::NOTE - 2.0);
    let rect = place(ui, width, look.pt(170.0));
    let painter = ui.painter();
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + note * 1.8),
        pos2(rect.right(), rect.bottom() - note * 3.0),
    );
    let loads = weeks.iter().filter_map(|week| week.load);
    let most = loads.fold(1.0, f64::max);
    painter.hline(
        plot.x_range(),
        plot.bottom(),
        Stroke::new(look.pt(1.5), colours.quiet),
    );
    let each = (plot.width() / weeks.len().max(1) as f32).min(look.pt(90.0));
    let mut free = [f32::NEG_INFINITY; 2];
    for (index, week) in weeks.iter().enumerate() {
        let left = plot.left() + each * index as f32;
        let bar = Rect::from_x_y_ranges(
            (left + each * 0.15)..=(left + each * 0.85),
            plot.bottom()..=plot.bottom(),
        );
        if let Some(load) = week.load {
            let high = plot.height() * (load / most) as f32;
            let bar = bar.with_min_y(plot.bottom() - high);
            painter.rect_filled(bar, 0.0, colours.lane);
            let edge = Stroke::new(look.pt(3.0), colours.ink);
            painter.hline(bar.x_range(), bar.top(), edge);
            // Where a ride was not rated the sum lacks it: the bar is open at its side.
            let words = format!("{load:.0}{}", if week.unrated > 0 { "+" } else { "" });
            let figure = painter.layout_no_wrap(words, bold(note), colours.ink);
            let at = bar.center().x - figure.size().x / 2.0;
            if at >= free[0] {
                free[0] = at + figure.size().x + look.pt(4.0);
                let top = bar.top() - figure.size().y - look.pt(3.0);
                painter.galley(pos2(at.max(rect.left()), top), figure, colours.ink);
            }
        }
        let day = week.monday.get(5..).unwrap_or(&week.monday);
        let words = painter.layout_no_wrap(day.to_owned(), regular(note), colours.quiet);
        let at = (bar.center().x - words.size().x / 2.0)
            .max(rect.left())
            .min(rect.right() - words.size().x);
        if at >= free[1] {
            free[1] = at + words.size().x + look.pt(6.0);
            painter.galley(pos2(at, plot.bottom() + look.pt(4.0)), words, colours.quiet);
        }
        let load = match (week.load, week.unrated) {
            (Some(load), 0) => say!("load {load:.0}", load),
            (Some(load), unrated) => {
                say!(
                    "load {load:.0} without {unrated} rides that were not rated",
                    load,
                    unrated
                )
            }
            (None, 0) => word!("nothing ridden").to_owned(),
            (None, _) => word!("not rated").to_owned(),
        };
        let spoken = say!(
            "{rides} rides, {time}, {load}",
            rides = week.rides,
            time = clock(week.ridden_s as f64),
            load
        );
        let whole = Rect::from_x_y_ranges(bar.x_range(), rect.y_range());
        name(
            ui,
            whole,
            &say!("Week of {monday}", monday = week.monday),
            &spoken,
        );
    }
    let words = painter.layout_no_wrap(
        word!("weeks from Monday by UTC; +: a ride of the week was not rated").to_owned(),
        regular(note * 0.95),
        colours.quiet,
    );
    if words.size().x <= rect.width() {
        let at = pos2(rect.left(), rect.bottom() - words.size().y);
        painter.galley(at, words, colours.quiet);
    }
}

/// Draws the effort map and gives it where the rider adopts it.
pub(super) fn map(ui: &mut Ui, map: &MapShown, width: f32, look: Look) -> Option<EffortMap> {
    heading(
        ui,
        word!("Effort map, learned from your ratings"),
        width,
        look,
    );
    let learned = match &map.learned {
        Ok(learned) => learned,
        Err(why) => {
            paragraph(ui, why, width, word!("Effort map"), look);
            return None;
        }
    };
    let colours = look.colours;
    let note = look.pt(size::NOTE - 2.0);
    let rect = place(ui, width, look.pt(250.0));
    let painter = ui.painter();
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + note),
        pos2(
            (rect.right() - note * 3.6).min(rect.left() + look.pt(640.0)),
            rect.bottom() - note * 1.8,
        ),
    );
    let most = map
        .stands
        .iter()
        .chain(&learned.shares)
        .copied()
        .fold(1.1, f64::max);
    let x = |effort: f64| plot.left() + plot.width() * (effort / 10.0) as f32;
    let y = |share: f64| plot.bottom() - plot.height() * (share / most).clamp(0.0, 1.0) as f32;
    for share in [0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0] {
        if share <= most {
            painter.hline(
                plot.x_range(),
                y(share),
                Stroke::new(look.pt(1.2), colours.rule),
            );
            let words = format!("{:.0} W", share * map.threshold_w);
            let at = pos2(plot.right() + look.pt(6.0), y(share));
            painter.text(at, Align2::LEFT_CENTER, words, regular(note), colours.quiet);
        }
    }
    for effort in (0..=10u8).step_by(2) {
        let at = pos2(x(f64::from(effort)), plot.bottom() + look.pt(4.0));
        painter.text(at, Align2::CENTER_TOP, effort, regular(note), colours.quiet);
    }
    // Each rating where it was given, open, so that many in one place are seen.
    for rated in &map.rated {
        let at = pos2(x(rated.rating), y(rated.share));
        painter.circle_stroke(at, look.pt(3.5), Stroke::new(look.pt(1.2), colours.quiet));
    }
    let line = |shares: &[f64; 10]| -> Vec<_> {
        let points = shares.iter().enumerate();
        points
            .map(|(effort, share)| pos2(x(effort as f64), y(*share)))
            .collect()
    };
    painter.line(line(&map.stands), Stroke::new(look.pt(1.6), colours.edge));
    for (effort, (share, doubt)) in learned.shares.iter().zip(&learned.doubt).enumerate() {
        let reach = y(share + doubt)..=y((share - doubt).max(0.0));
        painter.vline(
            x(effort as f64),
            reach,
            Stroke::new(look.pt(1.6), colours.ink),
        );
    }
    painter.line(
        line(&learned.shares),
        Stroke::new(look.pt(3.0), colours.ink),
    );
    name(ui, rect, word!("Effort map"), &map.spoken);
    let words = say!(
        "Thick: what {ratings} ratings of {rides} rides say, with one standard error; thin: your map as it stands; rings: ratings. They lie \
         {scatter} of ten from what is expected. An estimate; nothing changes until you adopt it.",
        ratings = learned.ratings,
        rides = learned.rides,
        scatter = number(Some(learned.scatter), 1)
    );
    paragraph(ui, &words, width, word!("About the map"), look);
    let at = place(ui, width, look.pt(46.0));
    let at = Rect::from_min_size(
        at.min + vec2(0.0, look.pt(6.0)),
        vec2(look.pt(220.0).min(width), look.pt(34.0)),
    );
    let adopt = word!("Adopt this map");
    let button = Button::new(RichText::new(adopt).font(regular(look.pt(size::BODY))));
    let response = ui.place(at, button.min_size(at.size()));
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, adopt));
    if response.clicked() {
        learned.map()
    } else {
        None
    }
}
