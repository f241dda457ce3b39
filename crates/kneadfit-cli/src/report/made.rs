//! How the calibration was made: what was read, assumed and computed.

use kneadfit::calibration::{DOSE_SCATTER_SCALE, Part, SCATTER_SCALE_K, Scatter};
use kneadfit::prior::Scale;
use kneadfit::thermal::{SCATTER_UNWORKED, SCATTER_WARMTH_K};

use super::ReportInput;
use super::html::Html;
use super::shown::counted;
use crate::plots::text::number;

/// The section.
pub fn write(page: &mut Html, input: &ReportInput<'_>) {
    page.section("made", "How it was made");
    provenance(page, input);
    model(page, input);
    assumed(page, input);
    page.end_section();
}

fn fact(page: &mut Html, name: &str, words: &str) {
    page.element("dt", name).element("dd", words);
}

fn provenance(page: &mut Html, input: &ReportInput<'_>) {
    let (made, calibration) = (&input.made, input.calibration);
    page.raw("<dl class=\"facts\">\n");
    for log in &made.logs {
        page.element("dt", "Log");
        page.raw("<dd>").quoted(&log.name).raw("<br/><code>SHA-256 ").quoted(&log.sha256);
        page.raw("</code></dd>\n");
    }
    let options = if made.options.is_empty() { "none" } else { &made.options };
    fact(page, "Options", options);
    fact(page, "Tool", &format!("kneadfit {}", made.tool_version));
    if let Some(when) = &made.when {
        fact(page, "When", when);
    }
    let usual = number(calibration.model.usual_charge_kg, 2);
    let chosen = match calibration.options.usual_charge_kg {
        Some(_) => "as given",
        None => "the largest dough of the log",
    };
    fact(page, "Usual charge", &format!("{usual} kg, {chosen}"));
    fit_facts(page, "Heat fit", &calibration.heat, "°C", "K for each 10 K of warmth by friction");
    if let Some(part) = &calibration.development {
        fit_facts(page, "Development fit", part, "", "of the logarithm of the dose");
    }
    page.raw("</dl>\n");
}

fn fit_facts(page: &mut Html, name: &str, part: &Part, unit: &str, scatter_unit: &str) {
    let scatter = match (&part.scatter, part.scatter.typical()) {
        (Scatter::Mixture(_), Some(sd)) => {
            format!("scatter from batch to batch {} {scatter_unit}", number(sd, 2))
        }
        (Scatter::StudentT { dof, .. }, Some(sd)) => {
            format!(
                "one standard deviation for everything, {} with {dof} degrees of freedom",
                number(sd, 3)
            )
        }
        (_, None) => "scatter not known: no reading is left over to tell it".into(),
    };
    let residual =
        format!("{} {unit}", number(part.residual_sd, if unit.is_empty() { 3 } else { 2 }));
    fact(
        page,
        name,
        &format!(
            "{}; {}; residuals {} root mean square; {scatter}.",
            part.outcome,
            counted(part.readings, "reading", "readings"),
            residual.trim_end()
        ),
    );
}

fn model(page: &mut Html, input: &ReportInput<'_>) {
    page.element("h3", "The model");
    page.element(
        "p",
        "Dough and the metal that follows it are one body of heat capacity C. Once wet it stands \
         at T₀; at speed s it warms by dT/dt, with m the dough, H its hydration, ψ the friction of \
         its flour’s doughs and u the exchange with the room. At rest the friction term is missing.",
    );
    page.raw("<pre>");
    page.text("T₀ = [ Σ m c T + C_bowl T_bowl + h m_flour − salt, sugar, ice ] / C").raw("\n");
    page.text("dT/dt = 0.06 [ q_s ψ m (m/m_usual)^β e^(−γ(H − 0.65)) (1 − α(T − 24)) ").raw("\n");
    page.text("               + u m^⅔ (T_room − T) ] / C          °C a minute");
    page.raw("</pre>\n");
    if input.calibration.development.is_some() {
        page.element(
            "p",
            "Development builds up as a dose X; a dose of 1 is full development, grade 0.95. A \
             logged grade of 1 says “at least full”.",
        );
        page.raw("<pre>");
        page.text("dX/dt = f κ_s Q10^((T − 24)/10),    grade = 1 − 20^(−X)").raw("</pre>\n");
    }
}

fn assumed(page: &mut Html, input: &ReportInput<'_>) {
    let options = &input.calibration.options;
    let u = &options.uncertainties;
    page.element("h3", "Taken as known");
    let given = format!(
        "Standard uncertainties: flour {} °C, water {} °C, room {} °C, a dough reading {} °C, \
         minutes {} min, scales {} %, ice {} %, a grade {}, the friction of a flour beside \
         another’s {} %.",
        u.flour_k,
        u.water_k,
        u.room_k,
        u.dough_k,
        u.minutes_min,
        100.0 * u.scale_relative,
        100.0 * u.ice_relative,
        u.development,
        100.0 * u.flour_friction
    );
    page.element("p", &given);
    if !options.with_prior {
        page.element(
            "p",
            "No priors: plain least squares. Every reading counts the same, and one standard \
             deviation, told by the residuals, stands for all that scatters.",
        );
        return;
    }
    let scatter = options.scatter_k.map_or_else(
        || format!("unknown, half-normal of {SCATTER_SCALE_K} K beforehand and integrated over"),
        |k| format!("given as {k} K"),
    );
    page.element(
        "p",
        &format!(
            "Scatter of the dough temperature from batch to batch for each {SCATTER_WARMTH_K} K of \
             warmth by friction ({SCATTER_UNWORKED} of it without any): {scatter}; of the \
             logarithm of the dose: half-normal of {DOSE_SCATTER_SCALE}. A reading too far off counts less.",
        ),
    );
    page.element("p", "What is usual (priors), before the log is read:");
    priors(page, input);
}

/// Priors repeat from speed to speed; more rows than this say nothing new.
const MOST_PRIORS: usize = 30;

fn priors(page: &mut Html, input: &ReportInput<'_>) {
    let calibration = input.calibration;
    let parts = std::iter::once(&calibration.heat).chain(&calibration.development);
    let all: Vec<_> =
        parts.flat_map(|p| &p.estimates).filter_map(|e| Some((e, e.prior?))).collect();
    page.table_head(&["coefficient", "middle", "spread", "unit"]);
    for (e, prior) in all.iter().take(MOST_PRIORS) {
        let spread = match e.scale {
            Scale::Logarithm => format!("times or over {}", number(prior.spread.exp(), 2)),
            Scale::Linear => format!("± {}", prior.spread),
        };
        page.raw("<tr><th scope=\"row\">").quoted(&e.name).raw("</th>");
        page.cell("middle", &format!("{}", (prior.median * 1e4).round() / 1e4));
        page.cell("spread", &spread);
        page.cell("unit", if e.unit == "1" { "–" } else { e.unit });
        page.raw("</tr>\n");
    }
    page.end_table();
    if all.len() > MOST_PRIORS {
        page.element("p", &format!("And {} more of the same kinds.", all.len() - MOST_PRIORS));
    }
}
