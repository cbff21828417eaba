"""What an examination is for, and what such an examination would speak of besides its findings.

Concepts of the lexicon with the reason each belongs: common practice, no source. The general purpose is the
lexicon's own list. Imports nothing of ours.
"""

from __future__ import annotations

GENERAL = "general"
AFTER_OPERATION = "after operation"

PURPOSES: dict[str, dict[str, str]] = {
    "nerve": {
        "median_nerve_sensation": "Where feeling is lost tells which nerve and how far up.",
        "ulnar_nerve_sensation": "Where feeling is lost tells which nerve and how far up.",
        "dorsal_ulnar_branch_sensation": "Spared at the wrist, lost at the elbow.",
        "superficial_radial_nerve_sensation": "The third nerve of the hand is easily forgotten.",
        "abductor_pollicis_brevis_power": "The muscle of the median nerve at the wrist.",
        "first_dorsal_interosseous_power": "The muscle of the ulnar nerve in the hand.",
        "thenar_wasting": "Wasting tells of long-standing loss.",
        "first_dorsal_interosseous_wasting": "Wasting tells of long-standing loss.",
        "tinel_test": "Finds the level.",
        "phalen_test": "Provokes the median nerve at the wrist.",
        "elbow_flexion_test": "Provokes the ulnar nerve at the elbow.",
        "froment_sign": "Shows the adductor of the thumb to be weak.",
    },
    "wound": {
        "wound": "Its place tells what may be divided beneath.",
        "tendon_integrity": "Each tendon under the wound by itself; a partly cut one still moves the finger.",
        "digital_nerve_sensation": "Before any anaesthetic.",
        "capillary_refill_time": "A divided artery.",
        "resting_cascade_abnormality": "A finger out of the cascade has lost a tendon.",
        "radiograph_result": "Bone, joint and what was left inside.",
    },
    "trauma": {
        "deformity": "Dislocation or fracture.",
        "swelling": "Where to look first.",
        "wound": "An open injury changes what comes next.",
        "malrotation": "Seen only with the fingers bent.",
        "tenderness": "The most tender place.",
        "capillary_refill_time": "Before and after anything is moved.",
        "median_nerve_sensation": "Before and after anything is moved.",
        "ulnar_nerve_sensation": "Before and after anything is moved.",
        "examine_joint_above": "A second injury higher up.",
    },
    "dupuytren": {
        "dupuytren_cord": "Which ray.",
        "dupuytren_nodule": "Which ray.",
        "fixed_flexion_deformity": "Each joint by itself decides what helps.",
        "tabletop_test": "Whether the palm lies flat.",
        "garrod_pads": "A stronger tendency.",
        "previous_surgery": "What was done before changes the risk.",
        "gross_sensation": "Before treatment puts a nerve at risk.",
        "perfusion": "Before treatment puts an artery at risk.",
    },
    "rheumatoid": {
        "synovitis": "Which joints are active.",
        "ulnar_drift": "The drift of the fingers.",
        "swan_neck_deformity": "The balance of the finger.",
        "boutonniere_deformity": "The balance of the finger.",
        "z_thumb_deformity": "The balance of the thumb.",
        "tendon_integrity": "Extensors over a prominent ulnar head rupture.",
        "ulnar_head_prominence": "Extensors over it are at risk.",
        "rheumatoid_nodule": "Extent of disease.",
        "hand_function": "What the hand can still do decides.",
        "grip_strength": "A figure to follow.",
    },
    AFTER_OPERATION: {
        "scar": "Healing and tethering.",
        "swelling": "Healing, or infection.",
        "erythema": "Infection.",
        "composite_flexion": "The first movement to be lost.",
        "composite_extension": "The first movement to be lost.",
        "gross_sensation": "A nerve at risk in the operation.",
        "capillary_refill_time": "An artery at risk in the operation.",
    },
    "elbow": {
        "carrying_angle": "An old or a growing injury.",
        "swelling": "The soft spot fills first.",
        "tenderness": "Epicondyles, radial head and olecranon in turn.",
        "elbow_flexion": "The arc that daily tasks need.",
        "elbow_extension": "The first to be lost.",
        "forearm_pronation": "The radial head turns with it.",
        "forearm_supination": "The radial head turns with it.",
        "ulnar_nerve_sensation": "The nerve lies behind the medial epicondyle.",
        "radial_pulse": "The artery crosses the joint.",
    },
    "child": {
        "deformity": "Fracture or congenital difference.",
        "tenderness": "Over the growth plate counts as a fracture until shown otherwise.",
        "radial_pulse": "An artery caught at the elbow.",
        "capillary_refill_time": "An artery caught at the elbow.",
        "ok_sign": "The anterior interosseous nerve, whose loss is not felt.",
        "ulnar_nerve_sensation": "A nerve hurt by the injury or its treatment.",
        "radial_nerve_sensation": "A nerve hurt by the injury or its treatment.",
    },
}
"""Concept and reason by purpose; common practice, no source."""
