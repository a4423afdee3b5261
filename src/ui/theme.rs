//! Design tokens: the two grounds, the sizes of type, the fonts.
//!
//! Sizes are given for a window of [`REFERENCE`] and are scaled with it by [`scale`].

use std::sync::Arc;

use egui::{Color32, FontData, FontDefinitions, FontFamily, FontId, Stroke, Vec2, Visuals};

/// The window that all sizes are given for, in points.
pub const REFERENCE: Vec2 = Vec2::new(1280.0, 800.0);

/// The least window that the rooms are laid out for, in points.
pub const SMALLEST: Vec2 = Vec2::new(800.0, 600.0);

/// How much larger than at [`REFERENCE`] everything in the Ride room is drawn.
pub fn scale(window: Vec2) -> f32 {
    (window.x / REFERENCE.x)
        .min(window.y / REFERENCE.y)
        .clamp(0.3, 6.0)
}

/// How much larger than at [`REFERENCE`] the rooms that are read from the chair are drawn: they scroll, so their type
/// need not shrink as far.
pub fn desk_scale(window: Vec2) -> f32 {
    scale(window).clamp(0.85, 1.6)
}

/// Sizes of type at [`REFERENCE`], in points.
pub mod size {
    /// Time left in the block.
    pub const HUGE: f32 = 158.0;
    /// The figure that is the rider's own job.
    pub const LARGE: f32 = 176.0;
    /// Watts, heart rate.
    pub const MIDDLE: f32 = 80.0;
    /// The sentence of the moment.
    pub const SENTENCE: f32 = 47.0;
    /// What comes next; the name of the block.
    pub const LINE: f32 = 40.0;
    /// Units, lane figures.
    pub const UNIT: f32 = 34.0;
    /// Scales, rulers, hints.
    pub const SMALL: f32 = 23.0;
    /// Headings of the rooms read from the chair.
    pub const HEADING: f32 = 26.0;
    /// Text of the rooms read from the chair.
    pub const BODY: f32 = 18.0;
    /// The smallest text of the rooms read from the chair.
    pub const NOTE: f32 = 16.0;
}

/// Which ground is drawn on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ground {
    /// Light ink on a dark ground.
    #[default]
    Dark,
    /// Dark ink on paper.
    Paper,
}

impl Ground {
    /// The other ground.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Dark => Self::Paper,
            Self::Paper => Self::Dark,
        }
    }

    /// Its colours.
    pub const fn colours(self) -> Colours {
        match self {
            Self::Dark => DARK,
            Self::Paper => PAPER,
        }
    }
}

/// The colours of a ground. Colour alone never carries a meaning: what is off the lane has a mark as well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colours {
    /// What everything is drawn on.
    pub ground: Color32,
    /// Figures, sentences and what the rider did.
    pub ink: Color32,
    /// The lane's fill.
    pub lane: Color32,
    /// The lane's edges.
    pub edge: Color32,
    /// Units, scales, hints: quieter, and still read while riding.
    pub quiet: Color32,
    /// Above the lane; also what needs attention.
    pub above: Color32,
    /// Below the lane.
    pub below: Color32,
    /// Ruled lines, which are not read.
    pub rule: Color32,
}

/// Light ink on a dark ground.
pub const DARK: Colours = Colours {
    ground: Color32::from_rgb(0x13, 0x15, 0x18),
    ink: Color32::from_rgb(0xf6, 0xf1, 0xe6),
    lane: Color32::from_rgb(0x2b, 0x30, 0x36),
    edge: Color32::from_rgb(0xc3, 0xc9, 0xd1),
    quiet: Color32::from_rgb(0xb4, 0xbb, 0xc5),
    above: Color32::from_rgb(0xe6, 0x9f, 0x00),
    below: Color32::from_rgb(0x56, 0xb4, 0xe9),
    rule: Color32::from_rgb(0x24, 0x28, 0x2d),
};

/// Dark ink on paper.
pub const PAPER: Colours = Colours {
    ground: Color32::from_rgb(0xfa, 0xf6, 0xec),
    ink: Color32::from_rgb(0x15, 0x16, 0x1a),
    lane: Color32::from_rgb(0xe8, 0xe1, 0xd0),
    edge: Color32::from_rgb(0x3a, 0x38, 0x31),
    quiet: Color32::from_rgb(0x4b, 0x48, 0x3f),
    above: Color32::from_rgb(0x7d, 0x3c, 0x00),
    below: Color32::from_rgb(0x00, 0x4f, 0x85),
    rule: Color32::from_rgb(0xe6, 0xe0, 0xd2),
};

/// What is read while riding, as pairs of what is drawn and what it is drawn on, each with a name.
///
/// Ink, marks and figures off the lane or off the cadence band lie on the ground by definition; only ink, its dot and the
/// edges lie on the lane's fill. What comes next in the last seconds of a block, and the words of a window that no key
/// reaches, are drawn in reverse.
pub fn riding_pairs(colours: Colours) -> [(&'static str, Color32, Color32); 8] {
    [
        ("ground on ink, in reverse", colours.ground, colours.ink),
        ("ink on ground", colours.ink, colours.ground),
        ("ink on lane", colours.ink, colours.lane),
        ("lane edge on ground", colours.edge, colours.ground),
        ("lane edge on lane", colours.edge, colours.lane),
        ("quiet text on ground", colours.quiet, colours.ground),
        ("above the lane on ground", colours.above, colours.ground),
        ("below the lane on ground", colours.below, colours.ground),
    ]
}

/// The contrast of two colours, 1 to 21, by WCAG 2.2's definitions of relative luminance and contrast ratio.
pub fn contrast(one: Color32, other: Color32) -> f64 {
    let luminance = |colour: Color32| {
        let linear = |channel: u8| {
            let share = f64::from(channel) / 255.0;
            if share <= 0.04045 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
    };
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The name of the family of bold figures.
const BOLD: &str = "bold";

/// Regular type of a size in points.
pub fn regular(points: f32) -> FontId {
    FontId::new(points, FontFamily::Proportional)
}

/// Bold type of a size in points.
pub fn bold(points: f32) -> FontId {
    FontId::new(points, FontFamily::Name(Arc::from(BOLD)))
}

/// Puts fonts and colours into a context, for both of egui's own themes alike.
pub fn install(ctx: &egui::Context, ground: Ground) {
    ctx.set_fonts(fonts());
    super::fonts::install(ctx);
    dress(ctx, ground);
}

/// Changes the colours.
pub fn dress(ctx: &egui::Context, ground: Ground) {
    let visuals = visuals(ground);
    ctx.set_theme(if ground == Ground::Dark {
        egui::Theme::Dark
    } else {
        egui::Theme::Light
    });
    ctx.set_visuals(visuals);
}

/// The fonts that are embedded: B612, and behind it egui's own for signs that it lacks.
pub(super) fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let regular = FontData::from_static(include_bytes!("../../assets/fonts/B612-Regular.otf"));
    let heavy = FontData::from_static(include_bytes!("../../assets/fonts/B612-Bold.otf"));
    fonts.font_data.insert("b612".to_owned(), Arc::new(regular));
    fonts
        .font_data
        .insert("b612-bold".to_owned(), Arc::new(heavy));
    // egui's own fonts stay behind ours for signs that B612 lacks.
    let fallback = fonts
        .families
        .get(&FontFamily::Proportional)
        .cloned()
        .unwrap_or_default();
    let with = |first: &str| {
        let mut names = vec![first.to_owned()];
        names.extend(fallback.iter().cloned());
        names
    };
    fonts
        .families
        .insert(FontFamily::Proportional, with("b612"));
    fonts
        .families
        .insert(FontFamily::Name(Arc::from(BOLD)), with("b612-bold"));
    fonts
}

fn visuals(ground: Ground) -> Visuals {
    let colours = ground.colours();
    let mut visuals = match ground {
        Ground::Dark => Visuals::dark(),
        Ground::Paper => Visuals::light(),
    };
    visuals.panel_fill = colours.ground;
    visuals.window_fill = colours.ground;
    visuals.extreme_bg_color = colours.lane;
    visuals.faint_bg_color = colours.lane;
    visuals.override_text_color = Some(colours.ink);
    visuals.weak_text_color = Some(colours.quiet);
    visuals.selection.bg_fill = colours.lane;
    visuals.selection.stroke = Stroke::new(2.0, colours.ink);
    let widgets = &mut visuals.widgets;
    for (state, fill, stroke) in [
        (&mut widgets.noninteractive, colours.ground, colours.rule),
        (&mut widgets.inactive, colours.ground, colours.quiet),
        (&mut widgets.hovered, colours.lane, colours.ink),
        (&mut widgets.active, colours.lane, colours.ink),
        (&mut widgets.open, colours.lane, colours.ink),
    ] {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::new(1.0, stroke);
        state.fg_stroke = Stroke::new(1.5, colours.ink);
        state.corner_radius = egui::CornerRadius::same(2);
        state.expansion = 0.0;
    }
    // The focused control is ringed thickly: it is what enter acts on.
    visuals.widgets.hovered.bg_stroke = Stroke::new(2.5, colours.ink);
    visuals.widgets.active.bg_stroke = Stroke::new(2.5, colours.ink);
    visuals
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    #[test]
    fn contrast_is_reckoned_as_the_guidelines_say() {
        // WCAG 2.2: black on white is 21:1, a colour on itself 1:1.
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        assert!((contrast(Color32::RED, Color32::RED) - 1.0).abs() < 1e-9);
        // #777777 on white is the well-known near miss of 4.5:1, at 4.48:1 (W3C, technique G18's examples).
        let grey = contrast(Color32::from_gray(0x77), Color32::WHITE);
        assert!((grey - 4.48).abs() < 0.005, "{grey}");
    }

    #[test]
    fn everything_read_while_riding_stands_out_seven_to_one() {
        for ground in [Ground::Dark, Ground::Paper] {
            for (what, drawn, on) in riding_pairs(ground.colours()) {
                let contrast = contrast(drawn, on);
                assert!(contrast >= 7.0, "{ground:?}: {what} is {contrast:.2}:1");
            }
        }
    }

    #[test]
    fn everything_scales_with_the_tighter_side() {
        assert!((scale(REFERENCE) - 1.0).abs() < 1e-6);
        assert!((scale(Vec2::new(800.0, 600.0)) - 0.625).abs() < 1e-6);
        assert!((scale(Vec2::new(1920.0, 1080.0)) - 1.35).abs() < 1e-6);
    }
}
