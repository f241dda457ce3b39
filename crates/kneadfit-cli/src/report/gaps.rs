//! What the log does not tell, and which batch to mix to learn it.

use kneadfit_log::Summary;
use kneadfit_log::summary::Gap;

use super::ReportInput;
use super::html::Html;

/// The section.
pub fn write(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    page.section("gaps", "What the log does not tell");
    let parts = || std::iter::once(&calibration.heat).chain(&calibration.development);
    let open: Vec<_> = parts().flat_map(|part| &part.left_open).collect();
    let gaps: Vec<Gap> = Summary::of(&input.log.log)
        .gaps
        .into_iter()
        .filter(|gap| {
            // With priors, what is left open says the rest, and says it better.
            !calibration.options.with_prior
                || matches!(
                    gap,
                    Gap::OneBatch | Gap::NoFlour | Gap::NoGrades | Gap::SpeedNeverUsed { .. }
                )
        })
        .collect();
    let warnings: Vec<String> = parts()
        .flat_map(|part| {
            let unfinished = (!part.outcome.is_success()).then(|| part.outcome.to_string());
            part.warnings.iter().cloned().chain(unfinished)
        })
        .collect();
    if open.is_empty() && gaps.is_empty() && warnings.is_empty() {
        page.element("p", "Nothing that the model asks for is left open by this log.");
        page.end_section();
        return;
    }
    if !warnings.is_empty() {
        page.raw("<ul class=\"warnings\">\n");
        for warning in &warnings {
            page.element("li", &capitalised(warning));
        }
        page.raw("</ul>\n");
    }
    if !open.is_empty() {
        page.element(
            "p",
            "The log says next to nothing of these; the numbers lean on what is \
             usual. A forecast of a batch like those logged can be good all the same.",
        );
        page.raw("<dl>\n");
        for unknown in open {
            page.element("dt", &capitalised(&unknown.words));
            page.element("dd", &format!("To learn it: {}.", unknown.remedy.trim_end_matches('.')));
        }
        page.raw("</dl>\n");
    }
    if !gaps.is_empty() {
        page.element("p", "Seen in the rows themselves:");
        page.raw("<ul>\n");
        for gap in gaps {
            let remedy = gap.remedy().map(|r| format!(" To learn it: {r}.")).unwrap_or_default();
            page.element("li", &format!("{}{remedy}", capitalised(&gap.to_string())));
        }
        page.raw("</ul>\n");
    }
    page.end_section();
}

/// A sentence of it: begun large, ended with a stop.
pub fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    let end = if words.ends_with('.') { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}
