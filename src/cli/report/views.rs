//! What a page is made from: beds with their newest sample, verdict, plan and years.

use crate::beds::{Bed, History, Key, Store, Timeline};
use crate::cli::output::Stop;
use crate::cli::plan::{FactsArgs, Figures, told_of, with_given};
use crate::judge::{Context, Judgement, judge, tell_each_other};
use crate::plan::{self, Fact, Knowledge, Known, Origin, Plan, plan};
use crate::record::{Record, Sample};

/// One bed of the page.
pub struct Dossier {
    pub id: Option<String>,
    pub record: Record,
    pub judgement: Judgement,
    pub complaint: Option<String>,
    pub class: Option<String>,
    pub plan: Result<Plan, String>,
    pub history: Option<History>,
}

/// What is asked of every bed.
pub struct Asking<'a> {
    pub facts: &'a FactsArgs,
    pub given: &'a Figures,
    pub knowledge: &'a Knowledge,
    pub context: Context<'a>,
}

/// Beds of the store, in the order of their ids; those without an analysis are left out.
pub fn of_store(store: &Store, ids: &[String], asking: &Asking<'_>) -> Result<Vec<Dossier>, Stop> {
    if ids.len() > 1 && !asking.given.is_empty() {
        return Err(Stop::Usage("figures were given, and there are several beds; name one with --bed".to_owned()));
    }
    let mut dossiers = Vec::new();
    for id in ids {
        let line = store.timeline(id)?;
        dossiers.extend(asking.dossier(&line, Some(line.bed.id.clone()))?);
    }
    Ok(dossiers)
}

/// Beds of reports: samples of one site and vessel are one bed, whose newest is judged and whose years are drawn.
pub fn of_reports(records: Vec<Record>, vessel: Option<&str>, asking: &Asking<'_>) -> Result<Vec<Dossier>, Stop> {
    let all: Vec<String> = records.iter().map(|record| called(&record.sample)).collect();
    let wanted = |record: &Record| {
        vessel.is_none_or(|vessel| called(&record.sample).to_lowercase().contains(&vessel.trim().to_lowercase()))
    };
    let mut beds: Vec<((Key, Key), Vec<Record>)> = Vec::new();
    for record in records.into_iter().filter(|record| wanted(record)) {
        let key = |name: &Option<String>| name.clone().unwrap_or_default();
        let key = (Key::site(&key(&record.sample.site)), Key::vessel(&key(&record.sample.vessel)));
        // Samples that name no vessel may be of any: each stands by itself.
        match beds.iter_mut().find(|(known, _)| !key.1.is_empty() && *known == key) {
            Some((_, of_bed)) => of_bed.push(record),
            None => beds.push((key, vec![record])),
        }
    }
    if beds.is_empty() {
        let asked = vessel.unwrap_or_default();
        return Err(Stop::Usage(format!("--vessel {asked}: there is no such vessel; there are {}", all.join("; "))));
    }
    if beds.len() > 1 && !asking.given.is_empty() {
        return Err(Stop::Usage(format!(
            "figures were given, and there are {} beds: {}. Say which with --vessel",
            beds.len(),
            all.join("; ")
        )));
    }
    let mut dossiers = Vec::new();
    for (_, records) in beds {
        let first = records.first().map(|record| record.sample.clone()).unwrap_or_default();
        let bed = Bed::named(&first.site.unwrap_or_default(), &first.vessel.unwrap_or_default());
        dossiers.extend(asking.dossier(&Timeline::of(bed, &records), None)?);
    }
    Ok(dossiers)
}

fn called(sample: &Sample) -> String {
    let name = sample.vessel.as_ref().or(sample.sample_id.as_ref());
    name.cloned().unwrap_or_else(|| "a bed without a name".to_owned())
}

impl Asking<'_> {
    /// The bed by its newest analysis; none where there is none.
    fn dossier(&self, reported: &Timeline, id: Option<String>) -> Result<Option<Dossier>, Stop> {
        let context = &self.context;
        // The verdict goes by what was told as well; the evidence is what the report says.
        let mut line = reported.clone();
        for analysis in &mut line.analyses {
            told_of(&mut analysis.record, self.facts, self.given, self.knowledge);
        }
        // A core of the whole bed says more than its top, and a bed as it stands more than a trial on the bench.
        let newest = line
            .analyses
            .iter()
            .enumerate()
            .filter(|(_, analysis)| analysis.counts)
            .max_by_key(|(_, analysis)| (analysis.on.clone(), analysis.stands_for_bed()));
        let Some((at, newest)) = newest else { return Ok(None) };
        // A lone report is judged as `judge` judges it; several of one bed tell of its years.
        let alone = id.is_none() && line.analyses.len() == 1;
        // Other samples of the same day, as the top beside the core, have something to say of each other.
        let of_day: Vec<usize> = line
            .analyses
            .iter()
            .enumerate()
            .filter(|(other, analysis)| {
                *other == at || (analysis.counts && analysis.on.is_some() && analysis.on == newest.on)
            })
            .map(|(other, _)| other)
            .collect();
        let records: Vec<Record> = of_day
            .iter()
            .filter_map(|other| line.analyses.get(*other))
            .map(|analysis| analysis.record.clone())
            .collect();
        let mut judgements: Vec<Judgement> = records
            .iter()
            .map(|record| if alone { judge(record, context) } else { line.verdict(record, context) })
            .collect();
        tell_each_other(&records, &mut judgements, context);
        let place = of_day.iter().position(|other| *other == at).filter(|place| *place < judgements.len());
        let Some(place) = place else { return Ok(None) };
        let judgement = judgements.swap_remove(place);
        let case = line.case(newest, &context.policy.limits);
        let class = context
            .class
            .map(str::to_owned)
            .or_else(|| line.class_of(newest.charge))
            .or_else(|| case.sample.resin_class.clone());
        let mut own = *context;
        own.class = class.as_deref();
        let mut bed = plan::Bed::from_report(&case, &judgement, &own);
        let mut known = |fact: Fact, value: Option<f64>| {
            if let Some(value) = value.filter(|_| bed.known(fact).is_none()) {
                bed.set(fact, Known { value, from: Origin::History });
            }
        };
        known(Fact::RunBefore, line.bed.run_at_startup.as_ref().map(|amount| amount.value));
        known(Fact::TankHeight, line.bed.tank_height.as_ref().map(|amount| amount.value));
        known(Fact::ResinPrice, line.bed.resin_price.as_ref().map(|price| price.per_litre));
        let bed = with_given(bed, self.facts, self.given);
        let plan = match plan(&bed, &own, self.knowledge, self.facts.wishes()) {
            Ok(plan) => Ok(plan),
            // What a person gave is asked back; what a register holds is said on the page.
            Err(error) if self.given.is_empty() && id.is_some() => Err(error.to_string()),
            Err(error) => return Err(Stop::Usage(error.to_string())),
        };
        let record =
            reported.analyses.get(at).map_or_else(|| newest.record.clone(), |analysis| analysis.record.clone());
        let history = (!alone).then(|| line.history(context));
        Ok(Some(Dossier { id, record, judgement, complaint: line.bed.complaint.clone(), class, plan, history }))
    }
}
