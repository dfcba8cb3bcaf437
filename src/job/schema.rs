//! What a JSON Schema allows where a path leads.

use serde_json::Value;

/// Keys that the schema allows where `steps` lead from its root; empty if none are
/// fixed there.
pub(super) fn known_keys(root: &Value, steps: &[super::path::Step]) -> Vec<String> {
    let nodes = at(root, steps);
    let objects = nodes.iter().flat_map(|node| branches(root, node));
    let properties = objects.filter_map(|node| node.get("properties")?.as_object());
    properties.flat_map(|keys| keys.keys().cloned()).collect()
}

/// The schema's nodes where `steps` lead from its root.
pub(super) fn at<'a>(root: &'a Value, steps: &[super::path::Step]) -> Vec<&'a Value> {
    let mut here = vec![root];
    for step in steps {
        here = here
            .iter()
            .flat_map(|node| branches(root, node))
            .filter_map(|node| match step {
                super::path::Step::Index(_) => node.get("items"),
                super::path::Step::Key(key) => node
                    .get("properties")
                    .and_then(|properties| properties.get(key))
                    .or_else(|| node.get("additionalProperties").filter(|n| n.is_object())),
            })
            .collect();
    }
    here
}

/// Whether the schema allows a list where `steps` lead from its root.
pub(super) fn allows_list(root: &Value, steps: &[super::path::Step]) -> bool {
    at(root, steps)
        .into_iter()
        .flat_map(|node| branches(root, node))
        .any(|node| node.get("items").is_some())
}

/// `node` with references followed and alternatives spread out.
pub(super) fn branches<'a>(root: &'a Value, node: &'a Value) -> Vec<&'a Value> {
    let target = node
        .get("$ref")
        .and_then(Value::as_str)
        .and_then(|reference| root.pointer(reference.strip_prefix('#')?))
        .unwrap_or(node);
    match target.get("anyOf").and_then(Value::as_array) {
        Some(options) => options
            .iter()
            .flat_map(|node| branches(root, node))
            .collect(),
        None => vec![target],
    }
}
