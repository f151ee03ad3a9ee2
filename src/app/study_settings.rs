//! The study's settings changed in the page: validated, written whole, the old file kept beside the new one.

use serde_json::json;

use super::AppError;
use super::Now;
use super::Workspace;
use super::files;
use super::log;
use crate::exchange;
use crate::seal::Digest;
use crate::study::ChosenLow;
use crate::study::Cohort;
use crate::study::Invalid;
use crate::study::Phase;
use crate::study::StudySettings;
use crate::study::Word;
use crate::study::holds_a_date;

/// What a fresh `study.toml` holds.
const FRESH: &str = include_str!("study.toml");

/// What stands in the form where all children were chosen for low scores.
const ALL: &str = "all";

/// Settings as a form gives them: lists with a line an entry.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SettingsForm {
    /// What staff call the study.
    pub name: String,
    /// The sound under treatment, as listeners are told it.
    pub target: String,
    /// The phases in their order.
    pub phases: String,
    /// The ways of treating.
    pub cohorts: String,
    /// The cohorts whose children were chosen because they scored low, or `all`.
    pub chosen_low: String,
    /// The words of the probe, judged letters in brackets.
    pub words: String,
    /// The language of the listener's page.
    pub language: String,
    /// The level, in LUFS.
    pub level_lufs: String,
}

impl SettingsForm {
    /// The form that holds these settings.
    pub fn of(settings: &StudySettings) -> Self {
        fn lines<T: ToString>(entries: &[T]) -> String {
            let entries: Vec<String> = entries.iter().map(ToString::to_string).collect();
            entries.join("\n")
        }
        Self {
            name: settings.name.clone(),
            target: settings.target.clone(),
            phases: lines(&settings.phases),
            cohorts: lines(&settings.cohorts),
            chosen_low: match &settings.chosen_for_low_scores {
                ChosenLow::Everybody(true) => ALL.to_owned(),
                ChosenLow::Everybody(false) => String::new(),
                ChosenLow::Cohorts(cohorts) => lines(cohorts),
            },
            words: lines(&settings.words),
            language: settings.language.clone(),
            level_lufs: settings.level_lufs.to_string(),
        }
    }

    /// The form of a study whose settings are not written yet.
    pub fn fresh() -> Self {
        let fresh = exchange::read_settings("study.toml", FRESH);
        fresh.map_or_else(|_| Self::default(), |settings| Self::of(&settings))
    }

    /// The settings that were written, with what stands only in the file.
    fn read(&self, before: Option<StudySettings>) -> Result<StudySettings, Invalid> {
        let (lists, mut cues) = before.map_or_else(Default::default, |it| (it.lists, it.cues));
        let cohorts = entries(&self.cohorts, Cohort::new)?;
        cues.retain(|cohort, _| cohorts.contains(cohort));
        let chosen_for_low_scores = chosen_low(&self.chosen_low, &cohorts)?;
        let settings = StudySettings {
            name: filled("name", &self.name)?,
            target: filled("target", &self.target)?,
            phases: entries(&self.phases, Phase::new)?,
            cohorts,
            words: entries(&self.words, Word::new)?,
            lists,
            cues,
            chosen_for_low_scores,
            language: filled("language", &self.language)?,
            level_lufs: self.level_lufs.trim().parse().map_err(|_| {
                Invalid::new(
                    format!("the level `{}` is no number", self.level_lufs.trim()),
                    "write one from -40 to -16; -27 is usual",
                )
            })?,
        };
        settings.check()?;
        check_labels(&settings)?;
        Ok(settings)
    }
}

/// Phases and cohorts are given away with the tables of a round: none may tell a day.
fn check_labels(settings: &StudySettings) -> Result<(), Invalid> {
    let phases = settings.phases.iter().map(Phase::as_str);
    let mut labels = phases.chain(settings.cohorts.iter().map(Cohort::as_str));
    labels
        .find(|label| holds_a_date(label))
        .map_or(Ok(()), |label| {
            Err(Invalid::new(
                format!("`{label}` holds a date"),
                "leave it out: phases and cohorts stand in tables that are given away",
            ))
        })
}

/// `lines`: the cohorts, or [`ALL`] where no cohort has that name.
fn chosen_low(lines: &str, known: &[Cohort]) -> Result<ChosenLow, Invalid> {
    let cohorts = entries(lines, Cohort::new)?;
    let all = matches!(cohorts.as_slice(), [one] if one.as_str() == ALL && !known.contains(one));
    Ok(match (all, cohorts.is_empty()) {
        (true, _) => ChosenLow::Everybody(true),
        (_, true) => ChosenLow::default(),
        _ => ChosenLow::Cohorts(cohorts),
    })
}

fn filled(what: &str, raw: &str) -> Result<String, Invalid> {
    let text = raw.trim();
    if text.is_empty() || text.chars().any(char::is_control) {
        let mend = "write it on one line";
        return Err(Invalid::new(format!("the {what} is empty or broken"), mend));
    }
    Ok(text.to_owned())
}

fn entries<T>(lines: &str, read: impl Fn(&str) -> Result<T, Invalid>) -> Result<Vec<T>, Invalid> {
    let lines = lines.lines().map(str::trim).filter(|line| !line.is_empty());
    lines.map(read).collect()
}

/// Whether the settings are sealed: with a round, or with a draw of who is treated how. Then they stay.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn settings_are_sealed(workspace: &Workspace) -> Result<bool, AppError> {
    workspace
        .store()
        .read(|reading| Ok(!reading.rounds()?.is_empty() || !reading.assignments()?.is_empty()))
}

/// Changes the study's settings: `study.toml` is written anew, and the old one stays beside it as `study.toml.before-…`.
///
/// # Errors
/// [`AppError::Refused`] with all that is wrong, once a round or a draw is sealed, and where recordings are in a phase or a cohort that
/// would go; [`AppError::File`] if the file cannot be written. Nothing is changed then.
pub fn change_settings(
    workspace: &Workspace,
    form: &SettingsForm,
    now: Now,
) -> Result<(), AppError> {
    let settings = form
        .read(workspace.settings().ok())
        .map_err(AppError::Refused)?;
    if settings_are_sealed(workspace)? {
        return Err(AppError::refused(
            "a round or a draw is sealed with these settings",
            "make a further study for what is to be judged otherwise",
        ));
    }
    check_recorded(workspace, &settings)?;
    let text = exchange::write_settings(&settings);
    let path = workspace.settings_file();
    if let Ok(before) = files::read(&path) {
        let kept = path.with_file_name(format!("study.toml.before-{}", now.ms()));
        files::write(&kept, &before)?;
    }
    files::write(&path, text.as_bytes())?;
    let digest = Digest::of(text.as_bytes()).to_string();
    workspace.store().write(move |writing| {
        let body = json!({ "settings": digest });
        log::append(writing, now, "settings changed", &body)
    })?;
    Ok(())
}

/// Whether everything that was imported still has its place.
fn check_recorded(workspace: &Workspace, settings: &StudySettings) -> Result<(), AppError> {
    let (level, sessions, children) = workspace.store().read(|reading| {
        Ok::<_, AppError>((
            reading.study_level_lufs()?,
            reading.sessions()?,
            reading.children()?,
        ))
    })?;
    if let Some(fixed) = level
        && (fixed - settings.level_lufs).abs() > 1e-9
    {
        return Err(AppError::refused(
            format!("words were prepared at {fixed} LUFS already"),
            "keep that level: words at two levels cannot be compared",
        ));
    }
    let phases = sessions.iter().map(|session| &session.phase);
    if let Some(phase) = phases
        .into_iter()
        .find(|phase| !settings.phases.contains(phase))
    {
        return Err(AppError::refused(
            format!("sessions were recorded in the phase `{phase}`"),
            "keep it in the list",
        ));
    }
    let cohorts = children.iter().filter_map(|child| child.cohort.as_ref());
    let gone =
        |cohort: &&Cohort| !settings.cohorts.is_empty() && !settings.cohorts.contains(cohort);
    if let Some(cohort) = cohorts.into_iter().find(gone) {
        return Err(AppError::refused(
            format!("children were recorded in the cohort `{cohort}`"),
            "keep it in the list",
        ));
    }
    Ok(())
}
