//! What the Review room shows, without drawing it.

use super::beside::{MapShown, before};
use super::{Said, State, View};
use crate::review::blocks::BlockResult;
use crate::review::chart::Chart;
use crate::review::csv_table::csv_table;
use crate::review::layers::half_width;
use crate::review::over::weeks::Week;
use crate::review::over::{Brief, Opened, brief};
use crate::review::said;
use crate::review::suggest::suggestions;
use crate::review::tables::{Shown, tables};
use crate::review::words::{DASH, change, clock, heading, number, plain, sentences};
use crate::rider::Rider;
use crate::text::{self, Language};
use crate::ui::widgets::strip::LanePoint;

/// A ride as a line of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The day and the hour, UTC.
    pub day: String,
    /// The session.
    pub name: String,
    /// How long, and how it was rated.
    pub figures: String,
    /// What was asked for.
    pub lane: Vec<LanePoint>,
    /// What was ridden, as efforts at even steps; none is a gap.
    pub ink: Vec<Option<f64>>,
    /// All of it, for a screen reader.
    pub spoken: String,
}

/// One block as a bar: as wide as it was long.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Its name.
    pub name: String,
    /// From, seconds ridden.
    pub from: f64,
    /// To, seconds ridden.
    pub to: f64,
    /// The lane's edges, W; none where there is no lane.
    pub lane: Option<(f64, f64)>,
    /// Mean power, W.
    pub power: Option<f64>,
    /// One standard deviation of it, W.
    pub spread: Option<f64>,
    /// The rating, in figures; empty where there is none.
    pub rating: String,
    /// All of it, for a screen reader.
    pub spoken: String,
}

/// How spread out the bars are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spread {
    /// The bars.
    pub bars: Vec<Bar>,
    /// Seconds ridden.
    pub length: f64,
    /// The top of the scale, W; nought where there are no watts.
    pub most: f64,
}

/// A figure of a set, repeat by repeat.
#[derive(Clone, Debug, PartialEq)]
pub struct Spark {
    /// What it is, with its unit.
    pub figure: String,
    /// In each repeat.
    pub values: Vec<Option<f64>>,
    /// The same as words.
    pub shown: Vec<String>,
    /// From first to last, in words.
    pub change: String,
}

/// Repeats side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Set {
    /// Whose.
    pub title: String,
    /// The numbers of the repeats.
    pub repeats: Vec<u32>,
    /// The figures.
    pub figures: Vec<Spark>,
}

/// Best mean powers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    /// Length in seconds and mean in W, the shortest first.
    pub points: Vec<(f64, f64)>,
    /// Those that are told in figures.
    pub told: Vec<(f64, f64)>,
    /// The best of the rider's other rides in the weeks before, at the same lengths.
    pub before: Vec<(f64, f64)>,
    /// All of it, for a screen reader.
    pub spoken: String,
}

/// Everything that the room shows, but for the lines of the list, which are made as they come into view.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// How long was ridden.
    pub length: String,
    /// Which ride it is.
    pub title: String,
    /// When, how and by whom.
    pub about: String,
    /// "Ride 3 of 40".
    pub place: String,
    /// What stands in the ride's place where none can be shown.
    pub instead: String,
    /// How it is looked at.
    pub view: View,
    /// Its strip.
    pub chart: Chart,
    /// What the strip shows, in words.
    pub spoken: String,
    /// What happened: headings, each with its paragraphs.
    pub story: Vec<(String, Vec<String>)>,
    /// The blocks.
    pub spread: Spread,
    /// The tables of this view.
    pub tables: Vec<Shown>,
    /// Repeats side by side.
    pub sets: Vec<Set>,
    /// Best mean powers.
    pub curve: Curve,
    /// The last weeks of this rider, with loads.
    pub weeks: Vec<Week>,
    /// The effort map of the rider that is chosen in Prepare, where this ride is theirs.
    pub map: Option<MapShown>,
    /// What this view lacks, in a sentence; empty where it lacks nothing.
    pub lacking: &'static str,
    /// What was said.
    pub said: Said,
}

impl Data {
    /// What the room shows; `rider` is the one that is chosen in Prepare.
    pub fn new(state: &State, rider: Option<&Rider>) -> Self {
        let rides = state.rides();
        let mut data = Self {
            view: state.view,
            said: state.said.clone(),
            place: match rides.len() {
                0 => word!("Rides").to_owned(),
                count => say!("Ride {number} of {count}", number = state.picked + 1, count),
            },
            ..Self::default()
        };
        let Some(listing) = &state.listing else {
            data.instead = word!("The rides are being read.").to_owned();
            return data;
        };
        if !listing.troubles.is_empty() && data.said.words.is_empty() {
            data.said = Said {
                words: listing.troubles.join(" "),
                wrong: true,
            };
        }
        let Some(picked) = rides.get(state.picked) else {
            data.instead = word!("Nothing was ridden yet. A ride that was begun is kept from its first second, and stands here afterwards.").to_owned();
            return data;
        };
        data.title = plain(&picked.session);
        data.length = clock(picked.ridden_s as f64);
        match (state.opened(), &state.trouble) {
            (Some(opened), _) => data.open(opened, state, picked, rider),
            (None, Some((key, why))) if *key == picked.key => data.instead.clone_from(why),
            _ => data.instead = word!("The ride is being read.").to_owned(),
        }
        data
    }

    fn open(&mut self, opened: &Opened, state: &State, picked: &Brief, rider: Option<&Rider>) {
        let review = &opened.review;
        self.title = plain(&review.session);
        self.length = clock(review.ride.ridden_s as f64);
        self.about = heading(review);
        self.chart = opened.chart.clone();
        self.spoken = spoken(opened);
        let all = tables(review);
        let take = |titles: &[&'static str]| -> Vec<Shown> {
            // The tables have their titles from the same entries.
            let of = |table: &&Shown| titles.iter().any(|title| table.title == text::word(title));
            all.iter().filter(of).cloned().collect()
        };
        match self.view {
            View::Story => {
                let parts = [
                    (word!("What happened"), sentences(review)),
                    (word!("For the next ride"), suggestions(review)),
                    (word!("What is missing"), review.missing.clone()),
                ];
                self.story = parts
                    .into_iter()
                    .filter(|(_, lines)| !lines.is_empty())
                    .map(|(title, lines)| (title.to_owned(), lines))
                    .collect();
            }
            View::Blocks => {
                self.spread = spread(opened);
                self.tables = take(&[
                    entry!("Blocks"),
                    entry!("What was asked, W, and what was ridden of it"),
                ]);
                if review.blocks.is_empty() {
                    self.lacking = word!("No block was ridden.");
                }
            }
            View::Repeats => {
                self.sets = sets(opened);
                if self.sets.is_empty() {
                    self.lacking =
                        word!("No block of this session was ridden whole more than once.");
                }
            }
            View::Bests => {
                self.curve = curve(opened);
                self.curve.before = before(state, picked);
                self.tables = take(&[
                    entry!("Best mean powers of this ride"),
                    entry!("How complete the recording is"),
                ]);
                if self.curve.points.is_empty() {
                    self.lacking = word!("Power was not measured, so there are no best means.");
                }
            }
            View::Sprints => {
                self.tables = take(&[entry!("Sprints"), entry!("Recoveries")]);
                if self.tables.is_empty() {
                    self.lacking = word!("The session has neither sprints nor recoveries.");
                }
            }
            View::Notes => {
                let lines = said::sentences(review);
                if lines.is_empty() {
                    self.lacking =
                        word!("No moment was marked, and nothing was said of this ride.");
                } else {
                    self.story = vec![(word!("Said and noted").to_owned(), lines)];
                }
                self.tables = take(&[entry!("Marks")]);
            }
            View::Over => self.over(state, picked, rider),
        }
    }

    /// The tables of this view as text for a spreadsheet, in English whoever reads; none where it has none.
    pub fn csv(&self, state: &State) -> Option<String> {
        match text::language() {
            Language::English => self.as_csv(state),
            _ => text::within(Language::English, || Self::new(state, None).as_csv(state)),
        }
    }

    /// The same in the language of this view.
    pub(super) fn as_csv(&self, state: &State) -> Option<String> {
        match self.view {
            View::Blocks => Some(csv_table(std::slice::from_ref(&state.opened()?.review))),
            View::Repeats => {
                let mut text = String::new();
                for set in &self.sets {
                    text += &crate::review::tables::as_csv(&set.shown());
                }
                (!text.is_empty()).then_some(text)
            }
            _ => {
                let tables = self.tables.iter().map(crate::review::tables::as_csv);
                let text = tables.collect::<Vec<_>>().join("\n");
                (!text.is_empty()).then_some(text)
            }
        }
    }
}

impl Set {
    /// As a table.
    pub fn shown(&self) -> Shown {
        let mut heads = vec![word!("figure" # "a column").to_owned()];
        heads.extend(self.repeats.iter().map(u32::to_string));
        heads.push(word!("first to last" # "a column").to_owned());
        let row = |spark: &Spark| {
            let mut cells = vec![spark.figure.clone()];
            cells.extend(spark.shown.iter().cloned());
            cells.push(spark.change.clone());
            cells
        };
        Shown {
            title: self.title.clone(),
            heads,
            rows: self.figures.iter().map(row).collect(),
            note: "",
            left: vec![0],
        }
    }
}

/// A ride as a line of the list.
pub(super) fn line(ride: &Brief) -> Line {
    let day = jiff::Timestamp::from_millisecond(ride.started_ms).map_or_else(
        |_| DASH.to_owned(),
        |at| at.strftime(word!("%-d %b %Y, %H:%M")).to_string(),
    );
    let mut figures = clock(ride.ridden_s as f64);
    if let Some(power) = ride.power_w {
        figures += &format!(", {power:.0} W");
    }
    if let Some(rating) = ride.rating {
        figures += &say!(", rated {rating}", rating = number(Some(rating), 0));
    }
    if ride.simulated {
        figures += word!(", practice");
    }
    let step = ride.ridden_s as f64 / brief::POINTS as f64;
    let mut lane = Vec::new();
    for (index, letter) in ride.asked.chars().take(brief::POINTS).enumerate() {
        let edges = brief::effort(letter).map(|effort| {
            if effort > 9.0 {
                (9.0, None)
            } else {
                (effort - 0.35, Some(effort + 0.35))
            }
        });
        for at in [index as f64 * step, (index + 1) as f64 * step] {
            lane.push(LanePoint { at, edges });
        }
    }
    let name = plain(&ride.session);
    Line {
        spoken: format!("{name}, {day}: {figures}"),
        day,
        name,
        figures,
        lane,
        ink: ride
            .ridden
            .chars()
            .take(brief::POINTS)
            .map(brief::effort)
            .collect(),
    }
}

fn spoken(opened: &Opened) -> String {
    let review = &opened.review;
    let deviation = &review.ride.deviation;
    let mut words = say!(
        "{blocks} blocks in {time}",
        blocks = review.blocks.len(),
        time = clock(review.ride.ridden_s as f64)
    );
    if let Some(mean) = deviation.mean_w {
        words += &say!(
            "; power less the lane {watts} W",
            watts = change(Some(mean), 0)
        );
    }
    for mark in &opened.chart.marks {
        words += &format!("; {}", text::translated(&mark.words));
    }
    for (from, to) in &opened.chart.gaps {
        words += &say!(
            "; no power from {from} to {to}",
            from = clock(*from),
            to = clock(*to)
        );
    }
    words
}

fn spread(opened: &Opened) -> Spread {
    let bars: Vec<Bar> = opened.review.blocks.iter().map(bar).collect();
    let tops = bars.iter().map(|bar| {
        let lane = bar.lane.map_or(0.0, |(_, high)| high);
        let power = bar
            .power
            .map_or(0.0, |power| power + bar.spread.unwrap_or(0.0));
        lane.max(power)
    });
    let most = tops.fold(0.0, f64::max);
    Spread {
        length: opened.chart.length,
        most: (most / 50.0).ceil() * 50.0,
        bars,
    }
}

fn bar(block: &BlockResult) -> Bar {
    let lane = block.fitted.mean_w.map(|lane| {
        let half = half_width(lane, block.held);
        (lane - half, lane + half)
    });
    let spread = block
        .power_w
        .zip(block.unevenness)
        .map(|(power, unevenness)| power * unevenness);
    let name = plain(&block.title());
    let mut spoken = format!("{name}, {}", clock(block.ridden_s as f64));
    match (block.power_w, block.fitted.mean_w) {
        (Some(power), Some(lane)) => {
            spoken += &say!(": {power:.0} W on a lane of {lane:.0} W", power, lane)
        }
        (Some(power), None) => spoken += &format!(": {power:.0} W"),
        _ => spoken += word!(": power not known"),
    }
    if let Some(rating) = block.rating {
        spoken += &say!(", rated {rating}", rating = number(Some(rating), 0));
    }
    Bar {
        from: block.start_s as f64,
        to: (block.start_s + block.ridden_s) as f64,
        lane,
        power: block.power_w,
        spread,
        rating: block
            .rating
            .map_or_else(String::new, |rating| number(Some(rating), 0)),
        name,
        spoken,
    }
}

fn sets(opened: &Opened) -> Vec<Set> {
    let sets = opened
        .review
        .sets
        .iter()
        .filter(|set| set.repeats.len() > 1);
    sets.map(|set| Set {
        title: say!("{name}, repeat by repeat", name = plain(&set.name)),
        repeats: set.repeats.clone(),
        figures: set
            .figures
            .iter()
            .map(|moved| {
                let decimals = usize::from(matches!(moved.unit, "Nm" | "kJ" | ""));
                let unit = if moved.unit.is_empty() {
                    String::new()
                } else {
                    format!(", {}", moved.unit)
                };
                Spark {
                    figure: format!("{}{unit}", text::word(moved.figure)),
                    shown: moved
                        .values
                        .iter()
                        .map(|value| number(*value, decimals))
                        .collect(),
                    values: moved.values.clone(),
                    change: change(moved.change, decimals),
                }
            })
            .collect(),
    })
    .collect()
}

/// The curve at lengths that stand evenly on a ruler of logarithms.
fn curve(opened: &Opened) -> Curve {
    const EACH_TENFOLD: f64 = 60.0;
    let means = &opened.review.ride.best_means_every_second_w;
    let mut points = Vec::new();
    let mut last = 0;
    for (index, mean) in means.iter().enumerate() {
        let place = ((index + 1) as f64).log10() * EACH_TENFOLD;
        let place = place.floor() as i64 + 1;
        if place > last || index + 1 == means.len() {
            last = place;
            points.push(((index + 1) as f64, *mean));
        }
    }
    let told: Vec<(f64, f64)> = opened
        .review
        .ride
        .best_means
        .iter()
        .filter_map(|best| Some((best.seconds as f64, best.mean_w?)))
        .collect();
    let words = told
        .iter()
        .map(|(seconds, mean)| format!("{} {mean:.0} W", clock(*seconds)));
    Curve {
        spoken: words.collect::<Vec<_>>().join("; "),
        points,
        told,
        before: Vec::new(),
    }
}
