//! Where everything stands in the Ride room, how large its type is, and what drops out where it does not fit.
//!
//! Critical type has its measure from the screen (`ui::legibility`) and does not shrink below it. So where a window is
//! small, or the rider wants larger type, the room shows less: [`ORDER`] says what goes first.

use egui::{Rect, pos2, vec2};

use crate::ui::legibility::FIGURES;
use crate::ui::theme::size;
use crate::ui::widgets::Look;

/// A piece that drops out where there is no room for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// The second of the smaller figures: watts, or heart rate.
    Fourth,
    /// The ruler of the whole session.
    Ruler,
    /// The first of the smaller figures.
    Third,
    /// The cadence band, or what the effort feels like.
    Band,
    /// The strip.
    Strip,
    /// The block's name.
    Block,
}

/// What drops out first when the height does not hold everything. What never drops out: the time left, the rider's own
/// figure, the sentence, what comes next, and the keys that pause and let the brake off.
///
/// In the width: the advice on gears stands under a short sentence and goes where the sentence needs two lines; what comes
/// next loses its name before its length; of the keys' row the session's clock goes first, then key by key from the least
/// needed, pause and brake off last.
pub(super) const ORDER: [Piece; 6] = [
    Piece::Fourth,
    Piece::Ruler,
    Piece::Third,
    Piece::Band,
    Piece::Strip,
    Piece::Block,
];

/// Sizes of type, points.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sizes {
    /// The sentence.
    pub sentence: f32,
    /// The block, what comes next.
    pub line: f32,
    /// Units and notes beside figures.
    pub unit: f32,
    /// Keys, the clock.
    pub small: f32,
    /// The time left.
    pub huge: f32,
    /// The rider's own figure.
    pub large: f32,
    /// The smaller figures.
    pub middle: f32,
    /// The least of what is read from the saddle.
    pub least: f32,
}

/// The places. Those that dropped out are none.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    pub sizes: Sizes,
    pub block: Option<Rect>,
    pub left: Rect,
    pub own: Rect,
    pub band: Option<Rect>,
    pub third: Option<Rect>,
    pub fourth: Option<Rect>,
    pub sentence: Rect,
    pub strip: Option<Rect>,
    pub next: Rect,
    pub ruler: Option<Rect>,
    /// The clock and the keys.
    pub foot: Rect,
}

/// A figure's line is this share of its size high: figures have no descenders.
const FIGURE_LINE: f32 = 0.92;

/// A line of text is this share of its size high.
const TEXT_LINE: f32 = 1.25;

/// What comes next stands in a box of its own when it is brought forward.
const NEXT_LINE: f32 = 1.45;

/// The sentence and what comes next stand across the whole width where the column beside the figures holds fewer than
/// so many sizes of the sentence: some twenty-eight letters.
const COLUMN_HOLDS: f32 = 14.0;

/// The share of the width that the column of figures has: "12:34" in bold is 2.9 sizes wide (B612: .65 a figure, .3 the
/// colon), so that it is 25 mm high on a screen of 13 inches.
const COLUMN: f32 = 0.369;

/// Between the window's sides and what stands in it, at the reference window.
const MARGIN: f32 = 34.0;

/// Between the column of figures and what stands beside it, at the reference window.
const GUTTER: f32 = 28.0;

impl Layout {
    /// For a window's rectangle.
    pub(super) fn new(window: Rect, look: Look) -> Self {
        let gone = |shown: &Shown| ORDER.into_iter().find(|piece| shown.has(*piece));
        let frame = Frame::new(window, look);
        let mut shown = Shown::default();
        while !frame.fits(&shown) {
            match gone(&shown) {
                Some(piece) => shown.drop(piece),
                None => break,
            }
        }
        frame.place(&shown)
    }

    /// Every place that is shown, by name.
    #[cfg(test)]
    fn all(&self) -> Vec<(&'static str, Rect)> {
        let mut all = vec![
            ("left", self.left),
            ("own", self.own),
            ("sentence", self.sentence),
            ("next", self.next),
            ("foot", self.foot),
        ];
        let maybe = [
            ("block", self.block),
            ("band", self.band),
            ("third", self.third),
            ("fourth", self.fourth),
            ("strip", self.strip),
            ("ruler", self.ruler),
        ];
        all.extend(
            maybe
                .into_iter()
                .filter_map(|(what, rect)| Some((what, rect?))),
        );
        all
    }
}

/// What has not dropped out.
#[derive(Clone, Debug, Default)]
struct Shown {
    dropped: Vec<Piece>,
}

impl Shown {
    fn has(&self, piece: Piece) -> bool {
        !self.dropped.contains(&piece)
    }

    fn drop(&mut self, piece: Piece) {
        self.dropped.push(piece);
    }
}

/// The window's measures, before anything has dropped out.
struct Frame {
    inside: Rect,
    look: Look,
    sizes: Sizes,
    /// The least size of the two big figures.
    least_figure: f32,
    /// Whether the sentence and what comes next stand beside the figures, above and below the strip.
    beside: bool,
    column: f32,
    gutter: f32,
    gap: f32,
}

impl Frame {
    fn new(window: Rect, look: Look) -> Self {
        // Nothing measured for a screen may fill the window by itself.
        let least = look
            .least
            .min(window.height() * 0.085)
            .min(window.width() * 0.06);
        let look = Look { least, ..look };
        let inside = Rect::from_min_max(
            window.min + vec2(look.pt(MARGIN), look.pt(20.0)),
            window.max - vec2(look.pt(MARGIN), look.pt(12.0)),
        );
        let sizes = Sizes {
            sentence: look.far(size::SENTENCE),
            line: look.far(size::LINE),
            unit: look.near(size::UNIT - 4.0),
            small: look.near(size::SMALL - 1.0),
            huge: (look.pt(size::HUGE) * look.text).max(least * FIGURES),
            large: (look.pt(size::LARGE) * look.text).max(least * FIGURES),
            middle: look.far(size::MIDDLE),
            least,
        };
        let gutter = look.pt(GUTTER);
        let narrow = inside.width() * COLUMN;
        let beside = inside.width() - narrow - gutter >= sizes.sentence * COLUMN_HOLDS;
        let column = if beside {
            narrow
        } else {
            inside.width() * 0.44
        };
        Self {
            inside,
            look,
            sizes,
            least_figure: (look.pt(size::HUGE)).max(least * FIGURES).min(sizes.huge),
            beside,
            column,
            gutter,
            gap: look.pt(8.0),
        }
    }

    fn ruler(&self) -> f32 {
        self.look.near(size::SMALL) * TEXT_LINE + self.look.pt(34.0)
    }

    fn band(&self) -> f32 {
        self.look.near(size::SMALL + 4.0) * TEXT_LINE + self.look.pt(34.0)
    }

    fn next(&self) -> f32 {
        // Across the whole width one line is enough for any session's names; beside the figures too.
        self.sizes.line * NEXT_LINE
    }

    fn sentence(&self) -> f32 {
        self.sizes.sentence * TEXT_LINE
            + self.sizes.sentence.max(self.sizes.small * 1.6) * TEXT_LINE
    }

    /// From the foot of the window to the foot of the figures.
    fn below(&self, shown: &Shown) -> f32 {
        let mut below = self.sizes.small * TEXT_LINE + self.gap;
        if shown.has(Piece::Ruler) {
            below += self.ruler() + self.gap;
        }
        if !self.beside {
            below += self.next() + self.gap;
        }
        below
    }

    fn above(&self) -> f32 {
        if self.beside {
            0.0
        } else {
            self.sentence() + self.gap
        }
    }

    /// The height of the column of figures, the two big ones at a size.
    fn figures(&self, shown: &Shown, big: f32) -> f32 {
        let mut height = 2.0 * big * FIGURE_LINE + self.gap;
        let mut add = |piece: Piece, line: f32| {
            if shown.has(piece) {
                height += line + self.gap;
            }
        };
        add(Piece::Block, self.sizes.line * TEXT_LINE);
        add(Piece::Band, self.band());
        add(Piece::Third, self.sizes.middle * FIGURE_LINE);
        add(Piece::Fourth, self.sizes.middle * FIGURE_LINE);
        if !shown.has(Piece::Strip) {
            // The two big figures stand beside each other where the strip was.
            height = big * FIGURE_LINE + self.gap;
            if shown.has(Piece::Block) {
                height += self.sizes.line * TEXT_LINE + self.gap;
            }
        }
        height
    }

    fn fits(&self, shown: &Shown) -> bool {
        let room = self.inside.height() - self.above() - self.below(shown);
        if self.figures(shown, self.least_figure) > room {
            return false;
        }
        let strip = room
            - if self.beside {
                self.sentence() + self.next() + 2.0 * self.gap
            } else {
                0.0
            };
        let wide = self.inside.width() - self.column - self.gutter;
        // A strip smaller than this shows nothing.
        !shown.has(Piece::Strip)
            || (strip >= self.look.near(size::SMALL) * 9.0
                && wide >= self.look.near(size::SMALL) * 10.0)
    }

    fn place(&self, shown: &Shown) -> Layout {
        let inside = self.inside;
        let top = inside.top() + self.above();
        let foot = inside.bottom() - self.below(shown);
        let small = self.sizes.small * TEXT_LINE;
        let keys = Rect::from_min_max(pos2(inside.left(), inside.bottom() - small), inside.max);
        let ruler = shown.has(Piece::Ruler).then(|| {
            let bottom = keys.top() - self.gap;
            Rect::from_x_y_ranges(inside.x_range(), (bottom - self.ruler())..=bottom)
        });
        let left_column = Rect::from_min_max(
            pos2(inside.left(), top),
            pos2(inside.left() + self.column, foot),
        );
        let right_column = Rect::from_min_max(
            pos2(left_column.right() + self.gutter, top),
            pos2(inside.right(), foot),
        );
        let (sentence, next, strip) = if self.beside {
            let sentence = right_column.with_max_y(right_column.top() + self.sentence());
            let next = right_column.with_min_y(right_column.bottom() - self.next());
            let strip = Rect::from_min_max(
                pos2(right_column.left(), sentence.bottom() + self.gap),
                pos2(right_column.right(), next.top() - self.gap),
            );
            (sentence, next, strip)
        } else {
            let sentence = Rect::from_x_y_ranges(
                inside.x_range(),
                inside.top()..=(inside.top() + self.sentence()),
            );
            let next = Rect::from_x_y_ranges(
                inside.x_range(),
                (foot + self.gap)..=(foot + self.gap + self.next()),
            );
            (sentence, next, right_column)
        };
        self.column_of(
            shown,
            left_column,
            right_column,
            sentence,
            next,
            strip,
            ruler,
            keys,
        )
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "the frame's own parts, used once"
    )]
    fn column_of(
        &self,
        shown: &Shown,
        column: Rect,
        right: Rect,
        sentence: Rect,
        next: Rect,
        strip: Rect,
        ruler: Option<Rect>,
        foot: Rect,
    ) -> Layout {
        let sizes = self.sizes;
        let wanted = sizes.huge.max(sizes.large);
        // What is over goes to the big figures first, up to their design, then evenly between the rows.
        let least = self.figures(shown, self.least_figure);
        let per_point = if shown.has(Piece::Strip) { 2.0 } else { 1.0 } * FIGURE_LINE;
        let over = (column.height() - least).max(0.0);
        let big = (self.least_figure + over / per_point).min(wanted);
        let short = (column.height() / least).min(1.0);
        let big = big * short;
        let rows = ORDER
            .iter()
            .filter(|piece| shown.has(**piece) && !matches!(piece, Piece::Strip | Piece::Ruler));
        let rows = rows.count() as f32 + 1.0;
        let spare = (column.height() - self.figures(shown, big)).max(0.0) / rows;
        let mut y = column.top();
        let mut row = |height: f32, rect: Rect| {
            let place = Rect::from_x_y_ranges(rect.x_range(), y..=(y + height));
            y += height + self.gap + spare;
            place
        };
        let block = shown
            .has(Piece::Block)
            .then(|| row(sizes.line * TEXT_LINE * short, column));
        let left = row(big * FIGURE_LINE, column);
        let sizes = Sizes {
            huge: sizes.huge.min(big),
            large: sizes.large.min(big),
            ..sizes
        };
        if !shown.has(Piece::Strip) {
            let own = Rect::from_x_y_ranges(right.x_range(), left.y_range());
            return Layout {
                sizes,
                block,
                left,
                own,
                band: None,
                third: None,
                fourth: None,
                sentence,
                strip: None,
                next,
                ruler,
                foot,
            };
        }
        let own = row(big * FIGURE_LINE, column);
        let band = shown.has(Piece::Band).then(|| row(self.band(), column));
        let middle = sizes.middle * FIGURE_LINE;
        let third = shown.has(Piece::Third).then(|| row(middle, column));
        let fourth = shown.has(Piece::Fourth).then(|| row(middle, column));
        Layout {
            sizes,
            block,
            left,
            own,
            band,
            third,
            fourth,
            sentence,
            strip: Some(strip),
            next,
            ruler,
            foot,
        }
    }
}

#[cfg(test)]
mod tests;
