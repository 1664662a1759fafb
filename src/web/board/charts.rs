//! Charts as SVG that stands in the page: no script, and no colour that the style sheet cannot change for the dark.

use std::error::Error;

use minijinja::Value;
use plotters::coord::ranged1d::{IntoSegmentedCoord as _, SegmentValue};
use plotters::prelude::*;

use crate::desk::board::season::{Day, FixTime, Models};
use crate::trade::drill::times::{Series, slope};

/// The accent of the style sheet, which looks for this very value.
const ACCENT: RGBColor = RGBColor(0x0b, 0x4f, 0x8a);
const INK: RGBColor = RGBColor(0, 0, 0);
const LINE: RGBColor = RGBColor(0x77, 0x77, 0x77);
const SIZE: (u32, u32) = (720, 300);
const LETTERS: (&str, u32) = ("sans-serif", 17);
/// How strong the accent is for each model: the first four can be told apart.
const STRENGTH: [f64; 4] = [1.0, 0.6, 0.35, 0.15];

/// Bars are no wider than if there were so many.
const FEWEST_DAYS: i32 = 14;
const FEWEST_KINDS: usize = 6;

type Drawn = Result<Value, Box<dyn Error + Send + Sync>>;

/// What a drawing on SVG may fail with, without its borrow of the text.
fn told(error: impl std::fmt::Display) -> Box<dyn Error + Send + Sync> {
    error.to_string().into()
}

fn finished(svg: &str, says: &str) -> Value {
    let says = says.replace('&', "and").replace(['<', '>', '"'], "");
    Value::from_safe_string(svg.replacen("<svg ", &format!("<svg role=\"img\" aria-label=\"{says}\" "), 1))
}

/// Bars: of a hundred asked, how many answered, by day.
pub fn rate(days: &[Day]) -> Drawn {
    let mut svg = String::new();
    {
        let root = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        let last = i32::try_from(days.len())?;
        let mut chart = ChartBuilder::on(&root)
            .margin(10)
            .x_label_area_size(34)
            .y_label_area_size(46)
            .build_cartesian_2d((0..last.max(FEWEST_DAYS) - 1).into_segmented(), 0.0..100.0)
            .map_err(told)?;
        let name = |at: &SegmentValue<i32>| match at {
            SegmentValue::CenterOf(index) => usize::try_from(*index)
                .ok()
                .and_then(|index| days.get(index))
                .map_or_else(String::new, |day| day.date.format("%b %-d").to_string()),
            _ => String::new(),
        };
        chart
            .configure_mesh()
            .disable_x_mesh()
            .bold_line_style(LINE.mix(0.5))
            .light_line_style(TRANSPARENT)
            .axis_style(INK)
            .y_labels(6)
            .x_labels(days.len().clamp(1, 8))
            .x_label_formatter(&name)
            .y_label_formatter(&|rate| format!("{rate:.0}"))
            .label_style(LETTERS)
            .draw()
            .map_err(told)?;
        let bars = days.iter().zip(0_i32..).map(|(day, at)| {
            let mut bar = Rectangle::new(
                [(SegmentValue::Exact(at), 0.0), (SegmentValue::Exact(at + 1), day.rate())],
                ACCENT.filled(),
            );
            bar.set_margin(0, 0, 3, 3);
            bar
        });
        chart.draw_series(bars).map_err(told)?;
        root.present().map_err(told)?;
    }
    let latest = days.last().map(|day| format!("; on {} {:.0}", day.date, day.rate())).unwrap_or_default();
    Ok(finished(&svg, &format!("Answered of a hundred asked, for {} days{latest}", days.len())))
}

/// Bars side by side: how often each flag came, by helmet model; the first four models.
#[expect(clippy::cast_precision_loss, reason = "counts of a season")]
pub fn flags(models: &Models) -> Drawn {
    let mut svg = String::new();
    {
        let root = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        let most = models.rows.iter().flat_map(|(_, counts)| counts.iter().take(4)).max().copied().unwrap_or(1).max(4);
        let shown = models.models.len().min(STRENGTH.len());
        let mut chart = ChartBuilder::on(&root)
            .margin(10)
            .x_label_area_size(34)
            .y_label_area_size(46)
            .build_cartesian_2d(0.0..models.rows.len().max(FEWEST_KINDS) as f64, 0.0..most as f64 * 1.25)
            .map_err(told)?;
        mesh(&mut chart)?;
        for (model, strength) in (0..shown).zip(STRENGTH) {
            let width = 0.8 / shown as f64;
            let corners = |row: usize, counts: &[u64]| {
                let left = row as f64 + 0.1 + width * model as f64;
                let count = counts.get(model).copied().unwrap_or(0) as f64;
                [(left, 0.0), (left + width, count)]
            };
            let rows = || models.rows.iter().enumerate();
            let bars =
                rows().map(|(row, (_, counts))| Rectangle::new(corners(row, counts), ACCENT.mix(strength).filled()));
            // The edge tells a pale bar from the paper.
            let edges = rows().map(|(row, (_, counts))| Rectangle::new(corners(row, counts), ACCENT.stroke_width(1)));
            chart.draw_series(edges).map_err(told)?;
            chart
                .draw_series(bars)
                .map_err(told)?
                .label(models.models.get(model).map_or("", String::as_str))
                .legend(move |(x, y)| Rectangle::new([(x, y - 6), (x + 14, y + 8)], ACCENT.mix(strength).filled()));
        }
        chart
            .configure_series_labels()
            .position(SeriesLabelPosition::UpperRight)
            .label_font(LETTERS)
            .draw()
            .map_err(told)?;
        names(&root, &chart, models.rows.iter().map(|(flag, _)| flag.as_str()))?;
        root.present().map_err(told)?;
    }
    let most = models.rows.iter().max_by_key(|(_, counts)| counts.iter().sum::<u64>());
    let most = most.map(|(flag, _)| format!("; most often {flag}")).unwrap_or_default();
    Ok(finished(&svg, &format!("Flags by point and helmet model{most}")))
}

/// Bars: the middle fix of each kind, in minutes; a line where three in four were done.
#[expect(clippy::cast_precision_loss, reason = "a dozen kinds")]
pub fn minutes(fixes: &[FixTime]) -> Drawn {
    let mut svg = String::new();
    {
        let root = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        let most = fixes.iter().map(|fix| fix.most).fold(1.0, f64::max);
        let mut chart = ChartBuilder::on(&root)
            .margin(10)
            .x_label_area_size(34)
            .y_label_area_size(46)
            .build_cartesian_2d(0.0..fixes.len().max(FEWEST_KINDS) as f64, 0.0..most * 1.1)
            .map_err(told)?;
        mesh(&mut chart)?;
        let bars = fixes
            .iter()
            .enumerate()
            .map(|(at, fix)| Rectangle::new([(at as f64 + 0.2, 0.0), (at as f64 + 0.8, fix.median)], ACCENT.filled()));
        chart.draw_series(bars).map_err(told)?;
        let lines = fixes.iter().enumerate().map(|(at, fix)| {
            PathElement::new([(at as f64 + 0.1, fix.most), (at as f64 + 0.9, fix.most)], INK.stroke_width(3))
        });
        chart.draw_series(lines).map_err(told)?;
        names(&root, &chart, fixes.iter().map(|fix| fix.flag.as_str()))?;
        root.present().map_err(told)?;
    }
    Ok(finished(
        &svg,
        "Minutes from taking a helmet to marking it fixed; the bar is the middle, the line three in four",
    ))
}

/// Dots and a line: seconds of each drill of one kind, by day; a line at the time to aim for.
#[expect(clippy::cast_precision_loss, reason = "days and seconds")]
pub fn times(series: &Series) -> Drawn {
    let mut svg = String::new();
    let first = series.times.first().map(|(day, _)| *day).unwrap_or_default();
    let points: Vec<(f64, f64)> =
        series.times.iter().map(|(day, seconds)| ((*day - first).num_days() as f64, f64::from(*seconds))).collect();
    {
        let root = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        let last = points.iter().map(|(day, _)| *day).fold(1.0, f64::max);
        let target = series.competence.skill.limits().map(|(aim, _)| f64::from(aim));
        let most = points.iter().map(|(_, seconds)| *seconds).chain(target).fold(1.0, f64::max);
        let mut chart = ChartBuilder::on(&root)
            .margin(10)
            .x_label_area_size(34)
            .y_label_area_size(46)
            .build_cartesian_2d(0.0..last, 0.0..most * 1.15)
            .map_err(told)?;
        let day = |days: &f64| {
            #[expect(clippy::cast_possible_truncation, reason = "days of a few years")]
            let days = chrono::TimeDelta::days(*days as i64);
            (first + days).format("%b %-d").to_string()
        };
        chart
            .configure_mesh()
            .disable_x_mesh()
            .bold_line_style(LINE.mix(0.5))
            .light_line_style(TRANSPARENT)
            .axis_style(INK)
            .x_labels(6)
            .x_label_formatter(&day)
            .y_labels(6)
            .y_label_formatter(&|seconds| format!("{seconds:.0}"))
            .label_style(LETTERS)
            .draw()
            .map_err(told)?;
        if let Some(target) = target {
            chart
                .draw_series([PathElement::new([(0.0, target), (last, target)], LINE.stroke_width(2))])
                .map_err(told)?;
        }
        chart.draw_series([PathElement::new(points.clone(), ACCENT.stroke_width(2))]).map_err(told)?;
        chart.draw_series(points.iter().map(|point| Circle::new(*point, 5, ACCENT.filled()))).map_err(told)?;
        root.present().map_err(told)?;
    }
    let trend = match slope(&series.times) {
        Some(slope) if slope > 0.05 => "; getting slower",
        Some(slope) if slope < -0.05 => "; getting faster",
        _ => "",
    };
    Ok(finished(&svg, &format!("Seconds by day, {}{trend}", series.competence.words())))
}

type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;
type Numbers<'a> = ChartContext<
    'a,
    SVGBackend<'a>,
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>,
>;

fn mesh(chart: &mut Numbers<'_>) -> Result<(), Box<dyn Error + Send + Sync>> {
    chart
        .configure_mesh()
        .disable_x_mesh()
        .bold_line_style(LINE.mix(0.5))
        .light_line_style(TRANSPARENT)
        .axis_style(INK)
        .x_labels(0)
        .y_labels(6)
        .y_label_formatter(&|count| format!("{count:.0}"))
        .label_style(LETTERS)
        .draw()
        .map_err(told)
}

/// Names under the middle of each group; shortened to what fits.
#[expect(clippy::cast_precision_loss, reason = "a dozen kinds")]
fn names<'n>(
    root: &Area<'_>,
    chart: &Numbers<'_>,
    names: impl ExactSizeIterator<Item = &'n str>,
) -> Result<(), Box<dyn Error + Send + Sync>> {
    use plotters::style::text_anchor::{HPos, Pos, VPos};
    let size = if names.len() > 8 { 12 } else { LETTERS.1 };
    for (at, name) in names.enumerate() {
        let (x, y) = chart.backend_coord(&(at as f64 + 0.5, 0.0));
        let style = TextStyle::from((LETTERS.0, size)).pos(Pos::new(HPos::Center, VPos::Top));
        root.draw(&Text::new(name.to_owned(), (x, y + 8), style)).map_err(told)?;
    }
    Ok(())
}
