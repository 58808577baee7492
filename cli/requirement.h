/*
 * cli/requirement.h - what a rule demands, with the numbers that are gone by.
 */
#pragma once
#include "cli/phrase.h"
#include "rules/parameter.h"
#include "rules/rule.h"

/*
 * The rule's requirement (rules/rule.h says what stands for a number). table: parameters, as --limits set them; parameters_all without.
 * False: something between braces is none of the rule's parameters, or has no such side; it is left as it is.
 */
bool requirement_phrase(struct phrase *p, const struct rule *r, const struct parameter *table);
