//! Letters for names in other scripts: fonts that are found when they are needed, within bounds, and a stand-in for
//! letters that no font has.

use std::ops::RangeInclusive;
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, AtomicUsize, Ordering};

use egui::epaint::text::{
    FallbackRequest, FontInsert, FontPriority, FontProvider, GlyphBitmap, GlyphRasterizer,
    GlyphRasterizerRequest, RasterizedGlyph,
};
use egui::{Color32, ColorImage, Context, FontFamily, Id, Vec2};

/// So many fonts are taken beside those that are embedded: more scripts than a list of names has.
pub const MOST_FONTS: usize = 16;

/// A font file of more bytes is passed over: the largest of common ones, with every Chinese, Japanese and Korean sign,
/// have some 20 MiB.
pub const MOST_BYTES: usize = 64 * 1024 * 1024;

/// Another source of fonts, within [`MOST_FONTS`] and [`MOST_BYTES`]. When they are used up, further letters have the
/// stand-in.
struct Bounded {
    inner: Arc<dyn FontProvider>,
    taken: AtomicUsize,
}

impl Bounded {
    /// This source, with nothing taken yet.
    fn new(inner: Arc<dyn FontProvider>) -> Self {
        Self {
            inner,
            taken: AtomicUsize::new(0),
        }
    }
}

impl FontProvider for Bounded {
    fn font_for(&self, request: &FallbackRequest<'_>) -> Option<FontInsert> {
        if self.taken.load(Ordering::Relaxed) >= MOST_FONTS {
            return None;
        }
        let found = self.inner.font_for(request)?;
        if found.data.bytes().len() > MOST_BYTES {
            return None;
        }
        self.taken.fetch_add(1, Ordering::Relaxed);
        Some(found)
    }
}

/// Scripts that run from right to left, each with a letter to ask for, and their letters.
///
/// A letter without a font is laid out with its neighbours in one run, whose direction the first such letter decides: a
/// Latin word beside it would stand backwards. Where no font is known for its script its stand-in is therefore laid out
/// by itself.
const RIGHT_TO_LEFT: [(&str, &[RangeInclusive<char>]); 5] = [
    ("א", &['\u{590}'..='\u{5ff}', '\u{fb1d}'..='\u{fb4f}']),
    (
        "ا",
        &[
            '\u{600}'..='\u{6ff}',
            '\u{750}'..='\u{77f}',
            '\u{870}'..='\u{8ff}',
            '\u{fb50}'..='\u{fdff}',
            '\u{fe70}'..='\u{fefe}',
        ],
    ),
    ("ܐ", &['\u{700}'..='\u{74f}', '\u{860}'..='\u{86f}']),
    ("ހ", &['\u{780}'..='\u{7bf}']),
    (
        "ߊ",
        &[
            '\u{7c0}'..='\u{85f}',
            '\u{10800}'..='\u{10fff}',
            '\u{1e800}'..='\u{1efff}',
        ],
    ),
];

/// A bit for each of [`RIGHT_TO_LEFT`] that a font is known for.
type Known = Arc<AtomicU8>;

fn known(ctx: &Context) -> Known {
    ctx.data_mut(|data| {
        data.get_temp_mut_or_default::<Known>(Id::unique("scripts with a font"))
            .clone()
    })
}

/// Has the window draw stand-ins for letters that no font has.
pub fn install(ctx: &Context) {
    let known = known(ctx);
    ctx.add_glyph_rasterizer(stand_in());
    let alone = GlyphRasterizer::new(
        "stillroad::stand_in_right_to_left",
        move |request: &GlyphRasterizerRequest<'_>| {
            let letter = request.cluster.chars().next()?;
            let script = RIGHT_TO_LEFT
                .iter()
                .position(|(_, letters)| letters.iter().any(|range| range.contains(&letter)))?;
            let has_font = known.load(Ordering::Relaxed) >> script & 1 == 1;
            (!has_font).then(|| boxed(letter, request.font_size_px))
        },
    );
    ctx.add_glyph_rasterizer(alone.with_priority(FontPriority::Highest));
}

/// Adds a source of fonts to the window, within bounds. It is asked at once for a letter of each script that runs from
/// right to left, which may take as long as listing the fonts of the computer.
pub fn add_source(ctx: &Context, source: Arc<dyn FontProvider>) {
    let known = known(ctx);
    for (script, (letter, _)) in RIGHT_TO_LEFT.iter().enumerate() {
        let request = FallbackRequest {
            cluster: letter,
            family: &FontFamily::Proportional,
        };
        if source
            .font_for(&request)
            .is_some_and(|found| found.data.bytes().len() <= MOST_BYTES)
        {
            known.fetch_or(1 << script, Ordering::Relaxed);
        }
    }
    ctx.add_font_provider(Arc::new(Bounded::new(source)));
}

/// Draws a letter that no font has as a box with its number in it, in hexadecimal: visible, and another for every
/// letter, so that two names stay apart.
fn stand_in() -> GlyphRasterizer {
    GlyphRasterizer::new(
        "stillroad::stand_in",
        |request: &GlyphRasterizerRequest<'_>| {
            let letter = request.cluster.chars().next()?;
            // What is not drawn at all, a mark of direction or a joiner, needs no stand-in.
            (!letter.is_control() && !letter.is_whitespace())
                .then(|| boxed(letter, request.font_size_px))
        },
    )
}

/// The sixteen digits, three dots wide and five high, a row a group of three bits from above.
const DIGITS: [u16; 16] = [
    0b111_101_101_101_111,
    0b010_110_010_010_111,
    0b111_001_111_100_111,
    0b111_001_111_001_111,
    0b101_101_111_001_001,
    0b111_100_111_001_111,
    0b111_100_111_101_111,
    0b111_001_010_010_010,
    0b111_101_111_101_111,
    0b111_101_111_001_111,
    0b010_101_111_101_101,
    0b110_101_110_101_110,
    0b011_100_100_100_011,
    0b110_101_101_101_110,
    0b111_100_110_100_111,
    0b111_100_110_100_100,
];

/// Dots of the box from above to below: frame, gap, a row of digits, gap, another row, gap, frame.
const HIGH: usize = 17;

/// Dots of the box that stand under the line on which letters stand.
const UNDER: usize = 3;

fn boxed(letter: char, size: f32) -> RasterizedGlyph {
    let number = u32::from(letter);
    // Two rows of two digits, of three for letters beyond the first plane.
    let across: usize = if number > 0xffff { 3 } else { 2 };
    let wide = 4 * across + 3;
    // The larger the type, the larger the dots; never less than a pixel.
    let dot = ((size / 18.0).round() as usize).clamp(1, 32);
    let mut lit = vec![false; wide * HIGH];
    for y in 0..HIGH {
        for x in 0..wide {
            lit[y * wide + x] = x == 0 || y == 0 || x + 1 == wide || y + 1 == HIGH;
        }
    }
    for place in 0..2 * across {
        let shift = 4 * (2 * across - 1 - place);
        let digit = DIGITS[(number >> shift) as usize & 0xf];
        let (left, top) = (2 + 4 * (place % across), 2 + 7 * (place / across));
        for bit in 0..15 {
            if digit >> (14 - bit) & 1 == 1 {
                lit[(top + bit / 3) * wide + left + bit % 3] = true;
            }
        }
    }
    let mut image = ColorImage::filled([wide * dot, HIGH * dot], Color32::TRANSPARENT);
    for y in 0..HIGH * dot {
        for x in 0..wide * dot {
            if lit[(y / dot) * wide + x / dot] {
                image[(x, y)] = Color32::WHITE;
            }
        }
    }
    RasterizedGlyph {
        bitmap: GlyphBitmap {
            image,
            offset_px: Vec2::new(dot as f32, -(((HIGH - UNDER) * dot) as f32)),
            is_color: false,
        },
        advance_px: ((wide + 2) * dot) as f32,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use egui::epaint::TextOptions;
    use egui::epaint::text::{FontData, Fonts, InsertFontFamily};
    use egui::{FontFamily, FontId};

    /// In a font that egui brings for code, and in none of those that the window writes names with.
    const ONLY_IN_CODE: char = '╬';

    fn code_font() -> FontData {
        let fonts = egui::FontDefinitions::default();
        (*fonts.font_data["Hack"]).clone()
    }

    /// A source that gives the font for code under a new name each time.
    fn source(data: FontData) -> Arc<dyn FontProvider> {
        let count = AtomicUsize::new(0);
        Arc::new(move |request: &FallbackRequest<'_>| {
            let number = count.fetch_add(1, Ordering::Relaxed);
            Some(FontInsert::new(
                &format!("found {number}"),
                data.clone(),
                vec![InsertFontFamily {
                    family: request.family.clone(),
                    priority: FontPriority::Lowest,
                }],
            ))
        })
    }

    fn fonts(provider: Option<Arc<dyn FontProvider>>) -> Fonts {
        let mut fonts = Fonts::new(TextOptions::default(), crate::ui::theme::fonts())
            .with_font_providers(provider.into_iter().collect());
        fonts.set_glyph_rasterizers(vec![stand_in()]);
        fonts
    }

    fn wide(fonts: &mut Fonts, words: &str) -> f32 {
        let galley = fonts.with_pixels_per_point(1.0).layout_no_wrap(
            words.to_owned(),
            FontId::proportional(18.0),
            Color32::WHITE,
        );
        galley.size().x
    }

    #[test]
    fn latin_greek_and_cyrillic_are_embedded() {
        let mut fonts = fonts(None);
        for words in ["Zoë Łukasz Çelik", "Νίκος", "Пётр Щукин"] {
            for letter in words.chars() {
                assert!(
                    fonts.has_glyph(&FontId::proportional(18.0), letter),
                    "{letter}"
                );
            }
        }
    }

    #[test]
    fn a_font_that_is_found_is_used_and_the_stand_in_is_not() {
        let mut without = fonts(None);
        assert!(!without.has_glyph(&FontId::proportional(18.0), ONLY_IN_CODE));
        let mut with = fonts(Some(Arc::new(Bounded::new(source(code_font())))));
        assert!(with.has_glyph(&FontId::proportional(18.0), ONLY_IN_CODE));
        let words = ONLY_IN_CODE.to_string();
        let (with, without) = (wide(&mut with, &words), wide(&mut without, &words));
        assert!((with - without).abs() > 1.0, "{with} and {without}");
    }

    #[test]
    fn fonts_are_bounded_in_number_and_size() {
        let bounded = Bounded::new(source(code_font()));
        let request = FallbackRequest {
            cluster: "╬",
            family: &FontFamily::Proportional,
        };
        let found = (0..MOST_FONTS * 2).filter(|_| bounded.font_for(&request).is_some());
        assert_eq!(found.count(), MOST_FONTS);
        let huge = FontData::from_owned(vec![0; MOST_BYTES + 1]);
        assert!(Bounded::new(source(huge)).font_for(&request).is_none());
    }

    #[test]
    fn latin_beside_letters_without_a_font_reads_from_left_to_right() {
        let order = |ctx: &Context, words: &str| {
            let mut order = Vec::new();
            let output = ctx.run_ui(egui::RawInput::default(), |ui| {
                let galley = ui.painter().layout_no_wrap(
                    words.to_owned(),
                    FontId::proportional(18.0),
                    Color32::WHITE,
                );
                let mut glyphs: Vec<_> = galley.rows[0].row.glyphs.clone();
                glyphs.sort_by(|a, b| a.pos.x.total_cmp(&b.pos.x));
                order = glyphs.iter().map(|glyph| glyph.chr).collect();
            });
            output.drop_without_applying_deltas();
            order.into_iter().collect::<String>()
        };
        let ctx = Context::default();
        crate::ui::theme::install(&ctx, crate::ui::theme::Ground::Dark);
        for words in ["רכב (simulated)", "دراجة 12 W", "ߊߋ one"] {
            let latin: String = words.chars().skip_while(|c| !c.is_whitespace()).collect();
            assert!(
                order(&ctx, words).ends_with(&latin),
                "{}",
                order(&ctx, words)
            );
        }
    }

    /// The digits of the number, read back from the box by its dots.
    fn read(letter: char) -> String {
        let glyph = boxed(letter, 18.0);
        let [wide, _] = glyph.bitmap.image.size;
        let across = (wide - 3) / 4;
        let lit = |x: usize, y: usize| glyph.bitmap.image[(x, y)] == Color32::WHITE;
        (0..2 * across)
            .map(|place| {
                let (left, top) = (2 + 4 * (place % across), 2 + 7 * (place / across));
                let dots = (0..15).fold(0u16, |dots, bit| {
                    dots << 1 | u16::from(lit(left + bit % 3, top + bit / 3))
                });
                let digit = DIGITS.iter().position(|&each| each == dots).unwrap();
                char::from_digit(u32::try_from(digit).unwrap(), 16).unwrap()
            })
            .collect()
    }

    #[test]
    fn a_letter_without_a_font_shows_its_number() {
        // The Unicode Standard's charts: alef, ka, the Han sign for one, a Gothic letter.
        for (letter, number) in [
            ('א', "05d0"),
            ('क', "0915"),
            ('一', "4e00"),
            ('\u{10330}', "010330"),
        ] {
            assert_eq!(read(letter), number);
        }
    }

    #[test]
    fn the_box_is_about_as_high_as_type_at_every_size() {
        for size in [9.0, 16.0, 18.0, 40.0, 160.0] {
            let high = boxed('一', size).bitmap.image.height() as f32;
            assert!((0.7..=1.9).contains(&(high / size)), "{high} at {size}");
        }
    }
}
