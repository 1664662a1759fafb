//! How the data files write many phrases as one.

/// The entries that one with choices stands for: "our|the power is|went out" stands for four. `_` joins the words of one choice,
/// and by itself is none.
pub(crate) fn spelled_out(entry: &str) -> Vec<String> {
    if !entry.contains('|') {
        return vec![entry.to_owned()];
    }
    let joined = |begun: Vec<String>, choices: &str| {
        let with = |begin: &String| choices.split('|').map(|choice| format!("{begin} {choice}")).collect::<Vec<_>>();
        begun.iter().flat_map(with).collect()
    };
    let spelled = entry.split(' ').fold(vec![String::new()], joined);
    spelled.into_iter().map(|entry| entry.replace('_', " ")).collect()
}
