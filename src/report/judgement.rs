//! A judgement as a page of terminal text that a dealer can read to a customer.
//!
//! Takes a [`Judgement`], gives text of a stated width. Chooses words and order; computes nothing.

use super::look::{Look, NARROWEST, borderless};
use super::plain::{safe, wrapped};
use crate::judge::{Grade, Judgement, Mark, ResampleHow, Verdict, property_words, quantity_words};
use comfy_table::{Attribute, Cell, CellAlignment, Color, ColumnConstraint, Width};

/// The page.
///
/// ```
/// use beadwise::{judge::{Context, example, judge}, report::{judgement::page, look::Look}};
/// let record = example::record("class sac-gel-8\nform Na\nvessel Softener 2\ntotal_capacity volume 1.94\nmoisture_retention 47")?;
/// let text = page(&judge(&record, &Context::builtin()?), &Look::default());
/// assert!(text.starts_with("Softener 2\n"));
/// assert!(text.contains("KEEP"));
/// assert!(text.lines().all(|line| line.chars().count() <= 80));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn page(judgement: &Judgement, look: &Look) -> String {
    let mut page = Page { lines: Vec::new(), width: usize::from(look.width.max(NARROWEST)), color: look.color };
    page.head(judgement);
    page.verdict(judgement);
    page.items("Why", &judgement.reasons);
    page.figures(judgement, look);
    page.parts(judgement);
    page.compared(judgement);
    page.items("Put right first", &judgement.fix_first);
    page.remedies(judgement);
    page.items("Cautions", &judgement.cautions);
    page.items("What would change this", &judgement.would_change);
    page.missing(judgement);
    page.items("Limits of your own", &judgement.overridden);
    let told = |text: &str| judgement.reasons.iter().any(|reason| reason.starts_with(text));
    let doubts = judgement.doubts.iter().filter(|doubt| !told(&doubt.text)).map(|doubt| doubt.text.clone());
    page.items("Does not add up", &doubts.collect::<Vec<_>>());
    page.next(judgement);
    let mut text = page.lines.join("\n");
    text.push('\n');
    text
}

struct Page {
    lines: Vec<String>,
    width: usize,
    color: bool,
}

impl Page {
    fn text(&mut self, text: &str, first: &str, rest: &str) {
        self.lines.extend(wrapped(&safe(text), self.width, first, rest));
    }

    fn title(&mut self, text: &str) {
        self.lines.push(String::new());
        let text = if self.color { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() };
        self.lines.push(text);
    }

    fn items(&mut self, title: &str, items: &[String]) {
        if items.is_empty() {
            return;
        }
        self.title(title);
        for item in items {
            self.text(item, "  - ", "    ");
        }
    }

    fn head(&mut self, judgement: &Judgement) {
        let sample = &judgement.sample;
        let named = |part: &Option<String>| part.clone().filter(|text| !text.trim().is_empty());
        let mut bed: Vec<String> =
            [&sample.vessel, &sample.site, &sample.customer].into_iter().filter_map(named).collect();
        if bed.is_empty() {
            bed.extend(named(&sample.sample_id).map(|id| format!("Sample {id}")));
        }
        if let Some(position) = named(&sample.position).filter(|position| position != "core") {
            bed.push(format!("{position} of the bed"));
        }
        if bed.is_empty() {
            bed.push("A bed that the report does not name".to_owned());
        }
        self.text(&bed.join(", "), "", "  ");
        let mut from: Vec<String> = Vec::new();
        from.extend(named(&sample.sampled_on).map(|date| format!("sampled {date}")));
        from.extend(named(&sample.laboratory).map(|name| format!("tested by {name}")));
        from.extend(named(&sample.report_number).map(|number| format!("report {number}")));
        from.extend(Some(judgement.source.file.clone()).filter(|file| !file.is_empty()));
        self.text(&from.join(", "), "", "  ");
    }

    fn verdict(&mut self, judgement: &Judgement) {
        self.lines.push(String::new());
        let (word, sentence) = told(judgement);
        let line = format!("{word} {sentence}");
        let at = self.lines.len();
        self.text(&line, "", "");
        if self.color
            && let Some(line) = self.lines.get_mut(at)
            && let Some(rest) = line.strip_prefix(word)
        {
            *line = format!("\u{1b}[1;{}m{word}\u{1b}[0m{rest}", color_code(judgement.verdict));
        }
        for also in &judgement.also {
            self.text(also_sentence(*also), "", "");
        }
        let mut sure = match judgement.verdict {
            Verdict::Resample => String::new(),
            _ => format!("How sure: {} ({} of 100).", judgement.certainty_words, whole(judgement.certainty.min(0.99))),
        };
        if let Some(others) = others(judgement) {
            sure.push_str(&format!(" The rest: {others}."));
        }
        self.text(sure.trim(), "", "");
        if let Some(economic) = &judgement.economic {
            self.text(&format!("By cost: {}", economic.text), "", "");
        }
        if let Some(score) = judgement.score {
            self.text(&format!("Score of the resin: {} of 100, by its weakest property.", score.round()), "", "");
        }
    }

    fn figures(&mut self, judgement: &Judgement, look: &Look) {
        if judgement.grades.is_empty() {
            return;
        }
        self.title("Figures against new resin");
        let mut table = borderless(look);
        table.set_header(["  Property", "Measured", "New", "Of new", "Grade"].map(Cell::new));
        for grade in &judgement.grades {
            table.add_row(row(grade, look.color));
        }
        if let Some(column) = table.column_mut(3) {
            column.set_cell_alignment(CellAlignment::Right);
            column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(8)));
        }
        self.lines.extend(table.lines().map(|line| line.trim_end().to_owned()));
        self.text(&format!("Compared: {}", judgement.baseline.text), "  ", "  ");
        if judgement.grades.iter().any(|grade| grade.calculated) {
            self.text("* worked out from other figures, not measured.", "  ", "  ");
        }
    }

    fn parts(&mut self, judgement: &Judgement) {
        let Some(loss) = judgement.loss.as_ref().filter(|loss| loss.total >= 0.02) else { return };
        self.title("Where the capacity went");
        self.text(&format!("{} % of new is lost:", whole(loss.total)), "  ", "  ");
        for part in loss.parts.iter().filter(|part| whole(part.best) != "0" || !matches!(&*whole(part.high), "0" | "1"))
        {
            let name = part_words(&part.part);
            self.text(
                &format!("{} % ({} to {} %) {name}", whole(part.best), whole(part.low), whole(part.high)),
                "  - ",
                "    ",
            );
        }
        if let Some(recovery) = judgement.recovery.as_ref().filter(|_| judgement.verdict == Verdict::Clean) {
            self.text(
                &format!(
                    "After cleaning about {} % of {} is to be expected ({} to {} %).",
                    whole(recovery.best),
                    recovery.of,
                    whole(recovery.low),
                    whole(recovery.high)
                ),
                "  ",
                "  ",
            );
        }
    }

    fn compared(&mut self, judgement: &Judgement) {
        let Some(compared) = &judgement.compared else { return };
        let named = Some(compared.source.file.as_str()).filter(|file| !file.is_empty());
        let title = match (&compared.sampled_on, named) {
            (Some(date), _) => format!("Against the sample of {date}"),
            (None, Some(file)) => format!("Against {file}"),
            (None, None) => "Against the sample before".to_owned(),
        };
        self.items(&safe(&title), &compared.text);
    }

    fn remedies(&mut self, judgement: &Judgement) {
        let cleans = judgement.verdict == Verdict::Clean || judgement.also.contains(&Verdict::Clean);
        if !cleans {
            return;
        }
        self.title("How to clean");
        let potable = judgement.sample.drinking_water;
        if judgement.remedy.iter().all(|remedy| !remedy.drinking_water) {
            let text = if potable == Some(false) && judgement.remedy.is_empty() {
                "No recipe here answers what was found: leave it to a specialist."
            } else if potable == Some(false) {
                ""
            } else {
                "No cleaning named here is for a bed that people drink from, or may drink from: leave it to a specialist with a cleaner listed for drinking water."
            };
            if !text.is_empty() {
                self.text(text, "  ", "  ");
            }
        }
        for remedy in &judgement.remedy {
            let limited = !remedy.drinking_water && potable != Some(false);
            let note =
                if limited { " Not for drinking water: only where it is certain that nobody drinks it." } else { "" };
            let dose = remedy.dose.as_ref().map_or(String::new(), |dose| format!(" {dose}"));
            let heat = remedy
                .temperature_max
                .map_or(String::new(), |limit| format!(" No hotter than {}.", quantity_words(limit, "Cel")));
            self.text(
                &format!(
                    "{}.{note}{dose} {}{heat} {} (Source: {}.)",
                    remedy.title, remedy.steps, remedy.end_check, remedy.source
                ),
                "  - ",
                "    ",
            );
        }
    }

    fn missing(&mut self, judgement: &Judgement) {
        if judgement.missing.is_empty() {
            return;
        }
        self.title("Not in the report, and worth asking for");
        let names: Vec<String> = judgement.missing.iter().map(|property| property_words(property)).collect();
        self.text(&names.join(", "), "  ", "  ");
    }

    fn next(&mut self, judgement: &Judgement) {
        self.title("Next");
        if let Some(by) = &judgement.replace_by {
            self.text(
                &format!("At this pace the resin comes to its end between {} and {}.", by.earliest, by.latest),
                "  ",
                "  ",
            );
        }
        let text = match (&judgement.next_sample_on, judgement.verdict) {
            (Some(date), _) => format!("Next sample: {date} ({}).", judgement.next_sample_why),
            (None, _) => format!("Next sample: {}.", judgement.next_sample_why),
        };
        self.text(&text, "  ", "  ");
    }
}

/// The verdicts that could be right instead, with their shares of a hundred.
pub(super) fn others(judgement: &Judgement) -> Option<String> {
    let others: Vec<String> = judgement
        .shares
        .iter()
        .filter(|(verdict, share)| verdict.as_str() != judgement.verdict.word() && **share >= 0.05)
        .map(|(verdict, share)| match verdict.as_str() {
            "resample" => format!("the report misleads or lacks something, {}", whole(*share)),
            other => format!("{other}, {}", whole(*share)),
        })
        .collect();
    (!others.is_empty()).then(|| others.join("; "))
}

/// What a part of the loss is.
pub(super) fn part_words(part: &str) -> &'static str {
    match part {
        "swelling" => "swollen beads (crosslinks lost; stays lost)",
        "blocked" => "blocked or diluted by metals (a cleaning can bring part back)",
        "fouled" => "fouled by what lies on the resin (a cleaning can bring part back)",
        "turned-weak" => "strong sites turned weak (stays lost)",
        "lost-sites" => "sites gone, or covered by something that was not measured",
        _ => "not explained by what was measured",
    }
}

pub(super) fn whole(share: f64) -> String {
    // Adding 0 takes the sign off a zero.
    format!("{:.0}", (share * 100.0).round() + 0.0)
}

/// The verdict's word, and the sentence after it.
pub(super) fn told(judgement: &Judgement) -> (&'static str, &'static str) {
    match (judgement.verdict, judgement.resample_how) {
        (Verdict::Keep, _) => ("KEEP", "this resin: the bed stays in service as it is."),
        (Verdict::Clean, _) => ("CLEAN", "this resin before anything else is decided."),
        (Verdict::TopOff, _) => ("TOP OFF", "this bed: the resin is sound, but some of it is missing."),
        (Verdict::Replace, _) => ("REPLACE", "this resin: what is wrong with it cannot be cleaned off."),
        (Verdict::Resample, Some(ResampleHow::AddTests)) => {
            ("NO VERDICT YET:", "have more tests run on the sample that the laboratory keeps.")
        }
        (Verdict::Resample, Some(ResampleHow::NewCore)) => ("NO VERDICT YET:", "pull a new core."),
        (Verdict::Resample, _) => ("NO VERDICT YET:", "something must be asked first."),
    }
}

pub(super) fn also_sentence(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::TopOff => "Then measure the freeboard again, and top the bed off.",
        Verdict::Clean => "Clean it before that.",
        _ => "",
    }
}

fn color_code(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Keep => 32,
        Verdict::Clean | Verdict::TopOff => 33,
        Verdict::Replace => 31,
        Verdict::Resample => 36,
    }
}

/// Name of a graded property, with its basis.
pub(super) fn grade_name(grade: &Grade) -> String {
    let basis = match grade.basis.as_deref() {
        Some("dry_mass") => ", dry",
        Some("wet_mass") => ", wet",
        _ => "",
    };
    let mark = if grade.calculated { " *" } else { "" };
    format!("{}{basis}{mark}", property_words(&grade.property))
}

/// A figure as it is compared.
pub(super) fn measured(grade: &Grade) -> String {
    format!("{}{}", grade.qualifier.sign(), in_one_unit(grade, grade.value))
}

fn in_one_unit(grade: &Grade, value: f64) -> String {
    match grade.unit.as_str() {
        // The page is narrow: the second unit of a capacity stands in the reasons.
        "eq/L" => format!("{value:.2} eq/L"),
        unit => quantity_words(value, unit),
    }
}

/// What new resin shows for it, without the unit; empty where that is not known.
pub(super) fn new_words(grade: &Grade) -> String {
    let bare = |v: f64| in_one_unit(grade, v).trim_end_matches(grade.unit.as_str()).trim_end().to_owned();
    grade.new.as_ref().map_or(String::new(), |new| match (new.typical, new.low, new.high) {
        // A moisture or a size is right within a range, and its middle alone would look like a limit.
        (Some(_), Some(low), Some(high)) if grade.percent_of_new.is_none() => {
            format!("{} to {}", bare(low), bare(high))
        }
        (Some(typical), _, _) => bare(typical),
        (None, Some(low), Some(high)) => format!("{} to {}", bare(low), bare(high)),
        (None, Some(low), None) => format!("at least {}", bare(low)),
        (None, None, Some(high)) => format!("at most {}", bare(high)),
        (None, None, None) => String::new(),
    })
}

fn row(grade: &Grade, color: bool) -> Vec<Cell> {
    let name = format!("  {}", grade_name(grade));
    let percent = grade.percent_of_new.map_or(String::new(), |percent| format!("{percent:.0} %"));
    let word = Cell::new(grade.grade.word());
    let word = match (color, grade.grade) {
        (false, _) | (true, Mark::New) => word,
        (true, Mark::Good) => word.fg(Color::Green),
        (true, Mark::Watch) => word.fg(Color::Yellow),
        (true, Mark::Poor) => word.fg(Color::Red),
        (true, Mark::Spent) => word.fg(Color::Red).add_attribute(Attribute::Bold),
    };
    let figures = [safe(&name), measured(grade), new_words(grade), percent];
    figures.into_iter().map(Cell::new).chain([word]).collect()
}
