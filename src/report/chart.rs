//! Charts of lines over an axis, as terminal text and as SVG.
//!
//! Takes points that were computed elsewhere, gives drawings; all figures on them are rounded by [`amount`].
//! Lines differ by dash and mark as well as by colour, so that a chart reads in greyscale.

use crate::report::amount;
use std::fmt::Write;

/// What an axis shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Axis {
    /// The quantity, `Weight`.
    pub label: String,
    /// Its unit, `kg`; empty for none.
    pub unit: String,
}

impl Axis {
    /// An axis of a quantity in a unit.
    pub fn new(label: &str, unit: &str) -> Axis {
        Axis {
            label: label.into(),
            unit: unit.into(),
        }
    }
    fn title(&self) -> String {
        if self.unit.is_empty() {
            self.label.clone()
        } else {
            format!("{}, {}", self.label, self.unit)
        }
    }
}

/// A line, with a band around it when its values are uncertain.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// Its name in the key.
    pub name: String,
    /// (x, y) by rising x; a y that is not finite breaks the line.
    pub points: Vec<(f64, f64)>,
    /// (x, low, high) by rising x; empty for none.
    pub band: Vec<(f64, f64, f64)>,
    /// Draw the points alone, not joined.
    pub dots: bool,
}

/// A place on the x axis worth naming.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mark {
    /// Where.
    pub x: f64,
    /// What is there, a few words.
    pub label: String,
}

/// A chart of one quantity over another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chart {
    /// Heading.
    pub title: String,
    /// What the chart shows, for people who do not see it.
    pub description: String,
    /// Horizontal axis.
    pub x: Axis,
    /// Vertical axis.
    pub y: Axis,
    /// Lines, at most four are told apart.
    pub lines: Vec<Line>,
    /// Named places.
    pub marks: Vec<Mark>,
}

/// A table of values over two axes, drawn as shaded cells with their figures in them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Map {
    /// Heading.
    pub title: String,
    /// What it shows, for people who do not see it.
    pub description: String,
    /// Horizontal axis.
    pub x: Axis,
    /// Its places.
    pub xs: Vec<f64>,
    /// Vertical axis, drawn upwards.
    pub y: Axis,
    /// Its places.
    pub ys: Vec<f64>,
    /// What the cells hold.
    pub value: Axis,
    /// A row for each of `ys`, a cell for each of `xs`; `None` where there is no value.
    pub cells: Vec<Vec<Option<f64>>>,
}

/// Marks of the lines in the terminal.
const GLYPHS: [char; 4] = ['●', '○', '▲', '+'];
/// Dashes of the lines in SVG.
const DASHES: [&str; 4] = ["none", "7 4", "2 4", "10 3 2 3"];
/// Lines of the plot in the terminal.
const ROWS: usize = 16;
/// Width and height of an SVG, and the margins left, right, above, below the plot.
const SIZE: (f64, f64) = (720.0, 380.0);
const MARGIN: (f64, f64, f64, f64) = (64.0, 18.0, 46.0, 78.0);

/// Round places between two values, three to seven of them: steps of 1, 2 or 5 times a power of ten.
pub fn ticks(low: f64, high: f64) -> Vec<f64> {
    if !(low.is_finite() && high.is_finite() && high > low) {
        return vec![low];
    }
    let raw = (high - low) / 6.0;
    let power = 10f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * power)
        .find(|s| *s >= raw * 0.999)
        .unwrap_or(10.0 * power);
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|n| n as f64 * step).collect()
}

/// The figures of ticks, all with as many decimals as their step needs.
fn tick_texts(ticks: &[f64]) -> Vec<String> {
    let step = ticks
        .windows(2)
        .map(|w| w[1] - w[0])
        .fold(f64::INFINITY, f64::min);
    let places = if step.is_finite() && step > 0.0 {
        (-step.log10() + 1e-9).ceil().clamp(0.0, 6.0) as usize
    } else {
        2
    };
    ticks.iter().map(|t| amount::decimals(*t, places)).collect()
}

impl Chart {
    /// Least and most of x and y over lines and bands; `None` without a finite point.
    fn ranges(&self) -> Option<((f64, f64), (f64, f64))> {
        let points = self.lines.iter().flat_map(|l| {
            let band = l.band.iter().flat_map(|b| [(b.0, b.1), (b.0, b.2)]);
            l.points.iter().copied().chain(band)
        });
        let mut r: Option<((f64, f64), (f64, f64))> = None;
        for (x, y) in points.filter(|p| p.0.is_finite() && p.1.is_finite()) {
            let ((x0, x1), (y0, y1)) = r.unwrap_or(((x, x), (y, y)));
            r = Some(((x0.min(x), x1.max(x)), (y0.min(y), y1.max(y))));
        }
        let ((x0, x1), (y0, y1)) = r?;
        let pad = if y1 > y0 {
            (y1 - y0) * 0.06
        } else {
            (y1.abs() * 0.05).max(0.5)
        };
        let x1 = if x1 > x0 { x1 } else { x0 + 1.0 };
        let low = if y0 >= 0.0 { (y0 - pad).max(0.0) } else { y0 - pad };
        Some(((x0, x1), (low, y1 + pad)))
    }

    /// The chart as terminal text, each line at most `width` columns.
    pub fn text(&self, width: usize) -> String {
        let Some(((x0, x1), (y0, y1))) = self.ranges() else {
            return format!("{}: nothing to draw\n", self.title);
        };
        let y_ticks = ticks(y0, y1);
        let y_texts = tick_texts(&y_ticks);
        let margin = y_texts.iter().map(|t| t.chars().count()).max().unwrap_or(1) + 2;
        let columns = width.saturating_sub(margin + 1).clamp(20, 400);
        let row_of = |y: f64| {
            ((y1 - y) / (y1 - y0) * (ROWS - 1) as f64)
                .round()
                .clamp(0.0, (ROWS - 1) as f64) as usize
        };
        let column_of = |x: f64| {
            ((x - x0) / (x1 - x0) * (columns - 1) as f64)
                .round()
                .clamp(0.0, (columns - 1) as f64) as usize
        };
        let mut grid = vec![vec![' '; columns]; ROWS];
        for (line, glyph) in self.lines.iter().zip(GLYPHS.iter().cycle()) {
            for c in 0..columns {
                let x = x0 + (x1 - x0) * c as f64 / (columns - 1) as f64;
                let low = at(&line.band.iter().map(|b| (b.0, b.1)).collect::<Vec<_>>(), x);
                let high = at(&line.band.iter().map(|b| (b.0, b.2)).collect::<Vec<_>>(), x);
                if let (Some(low), Some(high)) = (low, high) {
                    for row in &mut grid[row_of(high)..=row_of(low)] {
                        if row[c] == ' ' {
                            row[c] = '░';
                        }
                    }
                }
            }
            let mut last: Option<usize> = None;
            if line.dots {
                for (x, y) in line.points.iter().filter(|p| p.1.is_finite()) {
                    grid[row_of(*y)][column_of(*x)] = *glyph;
                }
                continue;
            }
            for c in 0..columns {
                let x = x0 + (x1 - x0) * c as f64 / (columns - 1) as f64;
                let row = at(&line.points, x).map(row_of);
                if let Some(r) = row {
                    // A steep stretch stays connected.
                    let from = last.map_or(r, |l| {
                        if l < r {
                            (l + 1).min(r)
                        } else {
                            l.saturating_sub(1).max(r)
                        }
                    });
                    for row in &mut grid[from.min(r)..=from.max(r)] {
                        row[c] = *glyph;
                    }
                }
                last = row;
            }
        }
        let mut out = format!("{}\n{}\n", self.title, self.y.title());
        for (r, cells) in grid.iter().enumerate() {
            let label = y_ticks
                .iter()
                .zip(&y_texts)
                .find(|(t, _)| row_of(**t) == r)
                .map_or("", |(_, s)| s);
            let axis = if label.is_empty() { '│' } else { '┤' };
            let line = format!(
                "{label:>w$} {axis}{}",
                cells.iter().collect::<String>(),
                w = margin - 2
            );
            out.push_str(line.trim_end());
            out.push('\n');
        }
        let x_ticks = ticks(x0, x1);
        let mut rule = vec!['─'; columns];
        let mut labels = vec![' '; columns];
        for (t, s) in x_ticks.iter().zip(tick_texts(&x_ticks)) {
            let c = column_of(*t);
            rule[c] = '┬';
            let len = s.chars().count();
            let start = c.saturating_sub(len / 2).min(columns.saturating_sub(len));
            let free = start == 0 || labels[start - 1] == ' ';
            if free && labels[start..start + len].iter().all(|l| *l == ' ') {
                for (k, ch) in s.chars().enumerate() {
                    labels[start + k] = ch;
                }
            }
        }
        let pad = " ".repeat(margin - 1);
        let _ = writeln!(out, "{pad}└{}", rule.iter().collect::<String>());
        let _ = writeln!(out, "{pad} {}", labels.iter().collect::<String>().trim_end());
        let _ = writeln!(out, "{pad} {}", self.x.title());
        for (line, glyph) in self.lines.iter().zip(GLYPHS.iter().cycle()) {
            let band = if line.band.is_empty() {
                ""
            } else {
                ", ░ its likely range"
            };
            if self.lines.len() > 1 || !band.is_empty() {
                let _ = writeln!(out, "  {glyph} {}{band}", line.name);
            }
        }
        for m in &self.marks {
            let _ = writeln!(out, "  at {}: {}", amount::figure(m.x), m.label);
        }
        out
    }

    /// The chart as an SVG element that stands by itself or inside a page: text alternative, dark and light.
    pub fn svg(&self) -> String {
        let (w, h) = SIZE;
        let mut out = open(w, h, &self.title, &self.description);
        let Some(((x0, x1), (y0, y1))) = self.ranges() else {
            let _ = write!(out, "<text x=\"20\" y=\"40\">Nothing to draw</text></svg>");
            return out;
        };
        let (left, right, top, bottom) = MARGIN;
        let px = |x: f64| left + (x - x0) / (x1 - x0) * (w - left - right);
        let py = |y: f64| top + (y1 - y) / (y1 - y0) * (h - top - bottom);
        let _ = writeln!(
            out,
            "<text class=\"head\" x=\"{left}\" y=\"18\">{}</text>",
            escape(&self.title)
        );
        let _ = writeln!(
            out,
            "<text x=\"{left}\" y=\"36\">{}</text>",
            escape(&self.y.title())
        );
        let y_ticks = ticks(y0, y1);
        for (t, s) in y_ticks.iter().zip(tick_texts(&y_ticks)) {
            let y = place(py(*t));
            let _ = writeln!(
                out,
                "<path class=\"grid\" d=\"M{left} {y}H{}\"/><text class=\"num\" x=\"{}\" y=\"{}\" text-anchor=\"end\">{s}</text>",
                w - right,
                left - 8.0,
                place(py(*t) + 4.0)
            );
        }
        let x_ticks = ticks(x0, x1);
        let floor = h - bottom;
        for (t, s) in x_ticks.iter().zip(tick_texts(&x_ticks)) {
            let x = place(px(*t));
            let _ = writeln!(
                out,
                "<path class=\"axis\" d=\"M{x} {floor}v5\"/><text class=\"num\" x=\"{x}\" y=\"{}\" text-anchor=\"middle\">{s}</text>",
                floor + 19.0
            );
        }
        let _ = writeln!(out, "<path class=\"axis\" d=\"M{left} {floor}H{}\"/>", w - right);
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{}</text>",
            w - right,
            floor + 36.0,
            escape(&self.x.title())
        );
        for m in self.marks.iter().filter(|m| m.x >= x0 && m.x <= x1) {
            let x = place(px(m.x));
            let end = px(m.x) > w * 0.7;
            let _ = writeln!(
                out,
                "<path class=\"mark\" d=\"M{x} {top}V{floor}\"/><text class=\"note\" x=\"{}\" y=\"{}\"{}>{}</text>",
                if end { x - 4.0 } else { x + 4.0 },
                top + 11.0,
                if end { " text-anchor=\"end\"" } else { "" },
                escape(&m.label)
            );
        }
        for (n, line) in self.lines.iter().enumerate() {
            let k = n % DASHES.len();
            if !line.band.is_empty() {
                let up = line
                    .band
                    .iter()
                    .map(|b| format!("{} {}", place(px(b.0)), place(py(b.2))));
                let down = line
                    .band
                    .iter()
                    .rev()
                    .map(|b| format!("{} {}", place(px(b.0)), place(py(b.1))));
                let d: Vec<String> = up.chain(down).collect();
                let _ = writeln!(out, "<path class=\"band c{k}\" d=\"M{}Z\"/>", d.join("L"));
            }
            if line.dots || line.points.len() == 1 {
                for (x, y) in line.points.iter().filter(|p| p.1.is_finite()) {
                    let _ = writeln!(
                        out,
                        "<circle class=\"dot c{k}\" cx=\"{}\" cy=\"{}\" r=\"3\"/>",
                        place(px(*x)),
                        place(py(*y))
                    );
                }
                continue;
            }
            let mut d = String::new();
            let mut pen = 'M';
            for (x, y) in &line.points {
                if y.is_finite() {
                    let _ = write!(d, "{pen}{} {}", place(px(*x)), place(py(*y)));
                    pen = 'L';
                } else {
                    pen = 'M';
                }
            }
            let _ = writeln!(
                out,
                "<path class=\"line c{k}\" stroke-dasharray=\"{}\" d=\"{d}\"/>",
                DASHES[k]
            );
        }
        let mut x = left;
        for (n, line) in self.lines.iter().enumerate() {
            let k = n % DASHES.len();
            let y = h - 14.0;
            let sample = if line.dots {
                format!(
                    "<circle class=\"dot c{k}\" cx=\"{}\" cy=\"{}\" r=\"3\"/>",
                    x + 13.0,
                    y - 4.0
                )
            } else {
                format!(
                    "<path class=\"line c{k}\" stroke-dasharray=\"{}\" d=\"M{x} {}h26\"/>",
                    DASHES[k],
                    y - 4.0
                )
            };
            let name = if line.band.is_empty() {
                line.name.clone()
            } else {
                format!("{} (shaded: likely range)", line.name)
            };
            let _ = writeln!(
                out,
                "{sample}<text x=\"{}\" y=\"{y}\">{}</text>",
                x + 32.0,
                escape(&name)
            );
            x += 50.0 + 7.0 * name.chars().count() as f64;
        }
        out.push_str("</svg>\n");
        out
    }
}

impl Map {
    /// The map as SVG: a darker cell is a higher value, and each cell shows its figure.
    pub fn svg(&self) -> String {
        let (nx, ny) = (self.xs.len().max(1) as f64, self.ys.len().max(1) as f64);
        let (left, top, cell) = (76.0, 52.0, (if nx > 12.0 { 46.0 } else { 58.0 }, 30.0));
        let (w, h) = (left + nx * cell.0 + 16.0, top + ny * cell.1 + 52.0);
        let w = f64::max(w, 420.0);
        let mut out = open(w, h, &self.title, &self.description);
        let known = || self.cells.iter().flatten().flatten().copied();
        let (low, high) = known().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
        let _ = writeln!(
            out,
            "<text class=\"head\" x=\"12\" y=\"18\">{}</text>",
            escape(&self.title)
        );
        let _ = writeln!(
            out,
            "<text x=\"12\" y=\"38\">{} up; cells: {}</text>",
            escape(&self.y.title()),
            escape(&self.value.title())
        );
        for (row, y) in self.ys.iter().enumerate() {
            let py = top + (ny - 1.0 - row as f64) * cell.1;
            let _ = writeln!(
                out,
                "<text class=\"num\" x=\"{}\" y=\"{}\" text-anchor=\"end\">{}</text>",
                left - 8.0,
                py + 20.0,
                amount::figure(*y)
            );
            for column in 0..self.xs.len() {
                let px = left + column as f64 * cell.0;
                let value = self.cells.get(row).and_then(|c| c.get(column)).copied().flatten();
                let (class, style, text) = match value {
                    // Half the ink at most, so that the figure stays readable on it.
                    Some(v) => {
                        let share = if high > low { (v - low) / (high - low) } else { 0.0 };
                        (
                            "",
                            format!(" fill-opacity=\"{}\"", place(0.06 + 0.44 * share)),
                            amount::figure(v),
                        )
                    }
                    None => (" none", String::new(), "none".into()),
                };
                let _ = writeln!(
                    out,
                    "<rect class=\"cell{class}\"{style} x=\"{px}\" y=\"{py}\" width=\"{}\" height=\"{}\"/><text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{text}</text>",
                    cell.0 - 2.0,
                    cell.1 - 2.0,
                    px + cell.0 / 2.0 - 1.0,
                    py + 19.0
                );
            }
        }
        for (column, x) in self.xs.iter().enumerate() {
            let _ = writeln!(
                out,
                "<text class=\"num\" x=\"{}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
                left + (column as f64 + 0.5) * cell.0,
                top + ny * cell.1 + 16.0,
                amount::figure(*x)
            );
        }
        let _ = writeln!(
            out,
            "<text x=\"{left}\" y=\"{}\">{}</text></svg>",
            top + ny * cell.1 + 38.0,
            escape(&self.x.title())
        );
        out
    }
}

/// The value of a broken line at x; `None` outside it and in its gaps.
fn at(points: &[(f64, f64)], x: f64) -> Option<f64> {
    let slack = 1e-9 * (1.0 + x.abs());
    let pair = points
        .windows(2)
        .find(|w| w[0].0 - slack <= x && x <= w[1].0 + slack);
    let value = match pair {
        Some([a, b]) if b.0 > a.0 => a.1 + (b.1 - a.1) * ((x - a.0) / (b.0 - a.0)).clamp(0.0, 1.0),
        Some([a, _]) => a.1,
        _ => points.iter().find(|p| (p.0 - x).abs() <= slack)?.1,
    };
    value.is_finite().then_some(value)
}

/// A coordinate with one or two decimals, so that files stay small and the same everywhere.
pub(crate) fn place(v: f64) -> f64 {
    (v * 100.0).round() / 100.0
}

/// Text that may stand in XML.
pub fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// Colours that people who see few colours tell apart, on light and on dark ground: blue, orange, green and
/// violet of differing lightness. A page that forbids styles within it loads this with its own and takes the charts
/// by [`bare`].
pub const STYLE: &str = ".pw{font:13px system-ui,sans-serif;--ink:#20242a;--soft:#5b636e;--hair:#d5d9de;--c0:#1f5fa8;--c1:#a34a00;--c2:#2c6e49;--c3:#6d3c9c}\
@media(prefers-color-scheme:dark){.pw{--ink:#eceff3;--soft:#a9b2bd;--hair:#3b424b;--c0:#8dbcf2;--c1:#f2ab6b;--c2:#8fd3ab;--c3:#cdb0ee}}\
.pw text{fill:var(--ink)}.pw .num,.pw .note{fill:var(--soft);font-size:12px}.pw .head{font-weight:600;font-size:15px}\
.pw .grid{stroke:var(--hair);fill:none}.pw .axis{stroke:var(--soft);fill:none}.pw .mark{stroke:var(--soft);stroke-dasharray:2 3;fill:none}\
.pw .line{fill:none;stroke-width:2.2}.pw .band{opacity:.18;stroke:none}\
.pw .line.c0{stroke:var(--c0)}.pw .line.c1{stroke:var(--c1)}.pw .line.c2{stroke:var(--c2)}.pw .line.c3{stroke:var(--c3)}\
.pw .c0:not(.line){fill:var(--c0)}.pw .c1:not(.line){fill:var(--c1)}.pw .c2:not(.line){fill:var(--c2)}.pw .c3:not(.line){fill:var(--c3)}\
.pw .cell{fill:var(--c0)}.pw .cell.none{fill:none;stroke:var(--hair)}";

/// A chart of this module without its own style, for a page that has loaded [`STYLE`].
pub fn bare(svg: &str) -> String {
    svg.replacen(&format!("<style>{STYLE}</style>"), "", 1)
}

fn open(w: f64, h: f64, title: &str, description: &str) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"pw\" role=\"img\" viewBox=\"0 0 {w} {h}\" aria-label=\"{}\"><title>{}</title><desc>{}</desc><style>{STYLE}</style>",
        escape(title),
        escape(title),
        escape(description)
    );
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> Chart {
        Chart {
            title: "Weight & <rate>".into(),
            description: "Rises from 60 to 64 kg.".into(),
            x: Axis::new("Week", ""),
            y: Axis::new("Weight", "kg"),
            lines: vec![
                Line {
                    name: "weight".into(),
                    points: vec![(0.0, 60.0), (10.0, 64.0)],
                    band: vec![(0.0, 60.0, 60.0), (10.0, 62.0, 66.0)],
                    dots: false,
                },
                Line {
                    name: "gap".into(),
                    points: vec![(0.0, 61.0), (4.0, f64::NAN), (5.0, 63.0), (10.0, 63.0)],
                    ..Line::default()
                },
            ],
            marks: vec![Mark {
                x: 5.0,
                label: "half".into(),
            }],
        }
    }

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 10.0), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(ticks(58.3, 61.0), [58.5, 59.0, 59.5, 60.0, 60.5, 61.0]);
        assert_eq!(ticks(3.0, 3.0), [3.0]);
    }

    #[test]
    fn text_stays_in_its_width_and_names_the_lines() {
        let text = chart().text(80);
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        for word in ["● weight", "○ gap", "at 5: half", "Weight, kg", "Week"] {
            assert!(text.contains(word), "{word} in\n{text}");
        }
    }

    #[test]
    fn a_line_is_not_drawn_in_its_gap() {
        assert_eq!(at(&chart().lines[1].points, 4.5), None);
        assert_eq!(at(&chart().lines[0].points, 5.0), Some(62.0));
        assert!(chart().svg().contains("M"));
    }

    #[test]
    fn svg_escapes_and_has_a_text_alternative() {
        let svg = chart().svg();
        assert!(svg.contains("Weight &amp; &lt;rate&gt;") && !svg.contains("<rate>"));
        assert!(svg.contains("<desc>Rises from 60 to 64 kg.</desc>") && svg.contains("role=\"img\""));
        assert!(!svg.contains("NaN"));
        assert_eq!(svg.matches("<style>").count(), 1);
        assert!(!bare(&svg).contains("style") && bare(&svg).contains("<desc>Rises"));
    }

    #[test]
    fn a_map_shows_each_figure_and_each_gap() {
        let map = Map {
            title: "Cost".into(),
            xs: vec![1.0, 2.0],
            ys: vec![10.0],
            cells: vec![vec![Some(3.25), None]],
            ..Map::default()
        };
        let svg = map.svg();
        assert!(svg.contains(">3.25<") && svg.contains(">none<"));
    }
}
