//! A drawn chart, made readable to whoever does not see it, and dressed for where it is shown.

use kuva::backend::svg::SvgBackend;
use kuva::prelude::{Layout, Plot, Theme};
use kuva::render::render::render_multiple;

use crate::Words;

/// What is drawn with, and the variable of a page's style that takes its place there. The file keeps the colours of paper.
pub(crate) const INK: &str = "#1b1f22";
pub(crate) const QUIET: &str = "#575e63";
pub(crate) const RULE: &str = "#dedad0";
pub(crate) const PAPER: &str = "#ffffff";
/// Told apart by people who see few colours (Okabe and Ito, Color Universal Design, 2008).
pub(crate) const SERIES: [&str; 4] = ["#0072b2", "#d55e00", "#007a5a", "#7a3e9d"];

const VARIABLES: [(&str, &str); 7] = [
    (INK, "--ink"),
    (QUIET, "--quiet"),
    (RULE, "--rule"),
    (SERIES[0], "--series-1"),
    (SERIES[1], "--series-2"),
    (SERIES[2], "--series-3"),
    (SERIES[3], "--series-4"),
];

/// A chart as SVG.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture(String);

impl Picture {
    pub(crate) fn draw(words: &Words, plots: Vec<Plot>, layout: Layout) -> Self {
        let theme = Theme {
            background: PAPER.to_owned(),
            axis_color: QUIET.to_owned(),
            grid_color: RULE.to_owned(),
            tick_color: QUIET.to_owned(),
            text_color: INK.to_owned(),
            legend_bg: PAPER.to_owned(),
            legend_border: PAPER.to_owned(),
            font_family: Some("system-ui, sans-serif".to_owned()),
            ..Theme::light()
        };
        let scene = render_multiple(plots, layout.with_theme(theme));
        let drawn = SvgBackend::new().render_scene(&scene);
        Self(told(words, &drawn, (scene.width, scene.height)))
    }

    /// To be kept or printed by itself.
    pub fn as_file(&self) -> &str {
        &self.0
    }

    /// In the colours of the page around it, light or dark, on its paper.
    pub fn in_page(&self) -> String {
        let ground = format!(r#"<rect width="100%" height="100%" fill="{PAPER}"/>"#);
        let bare = self.0.replacen(&ground, "", 1);
        VARIABLES.iter().fold(bare, |svg, (colour, variable)| {
            svg.replace(&format!("\"{colour}\""), &format!("\"var({variable}, {colour})\""))
        })
    }
}

/// With a title and a description, a size that follows the page's, and names of its own.
fn told(words: &Words, drawn: &str, (width, height): (f64, f64)) -> String {
    let Words { id, title, description } = words;
    // What the library says of itself, and where its own head ends.
    let inside = drawn.split_once("-->").map_or(drawn, |(_, inside)| inside);
    let inside = inside.replace("kuva-", &format!("{id}-"));
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {width:.0} {height:.0}" width="{width:.0}" height="{height:.0}" role="img" aria-labelledby="{id}-title {id}-description" font-family="system-ui, sans-serif" fill="{INK}"><title id="{id}-title">{}</title><desc id="{id}-description">{}</desc>{}"#,
        escaped(title),
        escaped(description),
        inside.trim_start().replace(" />", "/>"),
    )
}

pub(crate) fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            // Not a character of XML 1.0.
            unfit if unfit.is_control() && !matches!(unfit, '\t' | '\n' | '\r') => {}
            other => escaped.push(other),
        }
    }
    escaped
}
