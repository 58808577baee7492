/*
 * The program against real traffic: test_real_traffic PORTASSAY LIST FOLDER peer|copy
 *
 * LIST is tests/real-traffic.json. "copy": its traces as they lie in FOLDER (traces/); "peer": FOLDER/<name>/trace.pcap. For each:
 * every rule with verdict fail or undecided is in the list, with those frames, and nothing else is; every message is known; every
 * CRC is called what zlib says of the bytes that libpcap reads; every negotiation that the sink's own log tells of is a contract.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>

#include <cjson/cJSON.h>
#include <pcap/pcap.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

enum { TRACES_MAX = 32, PATH_BYTES = 4096 };

struct subject {
    const char  *portassay;
    const cJSON *expected;
    char         path[PATH_BYTES];
};

static char *read_all(FILE *f)
{
    char  *text = NULL;
    size_t length = 0, room = 0;

    do {
        if (room - length < 2) {
            room = room * 2 + 65536;
            text = realloc(text, room);
            assert_non_null(text);
        }
        length += fread(text + length, 1, room - length - 1, f);
    } while (!feof(f) && !ferror(f));
    text[length] = '\0';
    return text;
}

/* What the program prints, with these words between its name and the trace's. */
static char *program_says(const struct subject *s, const char *words)
{
    char  command[2 * PATH_BYTES];
    FILE *f;

    snprintf(command, sizeof command, "'%s' %s '%s'", s->portassay, words, s->path);
    f = popen(command, "r");
    assert_non_null(f);
    char *text = read_all(f);
    int   status = pclose(f);

    if (status < 0 || (status >> 8) > 1 || (status & 255))
        fail_msg("%s: exit status %d", command, status);
    return text;
}

static const char *text_of(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));

    if (!text)
        fail_msg("no text \"%s\" in an object of the list or of the program's JSON", key);
    return text;
}

static int number_of(const cJSON *object, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);

    if (!cJSON_IsNumber(item))
        fail_msg("no number \"%s\" in an object of the list or of the program's JSON", key);
    return item->valueint;
}

static cJSON *array_of(const cJSON *object, const char *key)
{
    cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);

    if (!cJSON_IsArray(item))
        fail_msg("no array \"%s\" in an object of the list or of the program's JSON", key);
    return item;
}

static cJSON *check_json(const struct subject *s)
{
    char  *text = program_says(s, "check --json --findings all");
    cJSON *json = cJSON_Parse(text);

    assert_non_null(json);
    free(text);
    return json;
}

/* Entry of a list for this rule and verdict, or NULL. */
static cJSON *entry_of(const cJSON *list, const char *rule, const char *verdict)
{
    cJSON *entry;

    cJSON_ArrayForEach(entry, list)
        if (strcmp(text_of(entry, "rule"), rule) == 0 && strcmp(text_of(entry, "verdict"), verdict) == 0)
            return entry;
    return NULL;
}

static int compare_ints(const void *a, const void *b)
{
    const int *x = a, *y = b;

    return (*x > *y) - (*x < *y);
}

/* Findings as a list like the expected one: for each rule and verdict the frames, rising. */
static cJSON *gather(const cJSON *findings)
{
    cJSON *list = cJSON_CreateArray(), *finding;

    cJSON_ArrayForEach(finding, findings) {
        const char *rule = text_of(finding, "rule"), *verdict = text_of(finding, "verdict");
        cJSON      *entry = entry_of(list, rule, verdict);

        if (!entry) {
            entry = cJSON_CreateObject();
            cJSON_AddStringToObject(entry, "rule", rule);
            cJSON_AddStringToObject(entry, "verdict", verdict);
            cJSON_AddArrayToObject(entry, "frames");
            cJSON_AddItemToArray(list, entry);
        }
        cJSON_AddItemToArray(array_of(entry, "frames"), cJSON_CreateNumber(number_of(finding, "frame")));
    }
    return list;
}

static size_t frames_in(const cJSON *entry, int *frames, size_t cap)
{
    const cJSON *item;
    size_t       n = 0;

    cJSON_ArrayForEach(item, array_of(entry, "frames")) {
        assert_true(n < cap);
        frames[n++] = item->valueint;
    }
    qsort(frames, n, sizeof *frames, compare_ints);
    return n;
}

/* Prints what is in a and not, or not with the same frames, in b. True if there is such a thing. */
static bool print_missing(const char *what, const cJSON *a, const cJSON *b)
{
    static int   in_a[65536], in_b[65536];
    const cJSON *entry;
    bool         any = false;

    cJSON_ArrayForEach(entry, a) {
        const cJSON *other = entry_of(b, text_of(entry, "rule"), text_of(entry, "verdict"));
        size_t       n = frames_in(entry, in_a, 65536);

        if (other && frames_in(other, in_b, 65536) == n && memcmp(in_a, in_b, n * sizeof in_a[0]) == 0)
            continue;
        any = true;
        print_message("%s: %s %s, frames", what, text_of(entry, "rule"), text_of(entry, "verdict"));
        for (size_t k = 0; k < n; k++)
            print_message(" %d", in_a[k]);
        print_message("\n");
    }
    return any;
}

/* Every rule whose verdict is fail or undecided has findings that say so. */
static void expect_findings_for_verdicts(const cJSON *rules, const cJSON *found)
{
    const cJSON *rule;

    cJSON_ArrayForEach(rule, rules) {
        const char *verdict = text_of(rule, "verdict");

        if ((strcmp(verdict, "fail") == 0 || strcmp(verdict, "undecided") == 0) &&
            !entry_of(found, text_of(rule, "rule"), verdict) && !entry_of(found, text_of(rule, "rule"), "note"))
            fail_msg("%s is %s, but no finding says where", text_of(rule, "rule"), verdict);
    }
}

static void every_finding_is_in_the_list_and_no_other(void **state)
{
    const struct subject *s = *state;
    cJSON                *json = check_json(s), *found = gather(array_of(json, "findings"));
    const cJSON          *listed = array_of(s->expected, "rules"), *entry;
    bool                  more, less;

    expect_findings_for_verdicts(array_of(json, "rules"), found);
    cJSON_ArrayForEach(entry, listed) {
        assert_true(strlen(text_of(entry, "clause")) > 0);
        assert_true(strlen(text_of(entry, "because")) > 0);
    }
    more = print_missing("found, not listed", found, listed);
    less = print_missing("listed, not found", listed, found);
    cJSON_Delete(found);
    cJSON_Delete(json);
    if (more || less)
        fail_msg("%s: not what tests/real-traffic.json says", s->path);
}

/* One "position mv ma" a line: a contract, and once more each time it was renewed. */
static void append_point(char *text, size_t cap, const cJSON *point, int times)
{
    for (int k = 0; k < times; k++) {
        size_t used = strlen(text);

        snprintf(text + used, cap - used, "object %d: %d mV %d mA\n", number_of(point, "position"), number_of(point, "mv"),
                 number_of(point, "ma"));
    }
}

static void every_negotiation_is_found_as_a_contract(void **state)
{
    const struct subject *s = *state;
    cJSON                *json = check_json(s);
    const cJSON          *port, *contract, *asked;
    char                  found[16384] = "", listed[16384] = "";

    cJSON_ArrayForEach(port, array_of(json, "ports"))
        cJSON_ArrayForEach(contract, array_of(port, "contracts"))
            append_point(found, sizeof found, contract, 1 + number_of(contract, "renewed"));
    cJSON_ArrayForEach(asked, array_of(s->expected, "negotiations"))
        append_point(listed, sizeof listed, asked, 1);
    cJSON_Delete(json);
    assert_string_equal(found, listed);
}

/* Is this frame among those that the wire spoilt? */
static bool spoilt(const struct subject *s, int frame)
{
    const cJSON *item;

    cJSON_ArrayForEach(item, array_of(s->expected, "bad_crc"))
        if (item->valueint == frame)
            return true;
    return false;
}

/* By libpcap and zlib alone: for each frame 'g' a packet with a good CRC, 'b' a bad one, '-' no packet. */
static size_t crc_states(const struct subject *s, char *states, size_t cap)
{
    char                words[PCAP_ERRBUF_SIZE];
    pcap_t             *p = pcap_open_offline(s->path, words);
    struct pcap_pkthdr *head;
    const u_char       *r;
    size_t              n = 0;

    if (!p)
        fail_msg("%s: %s", s->path, words);
    while (pcap_next_ex(p, &head, &r) == 1) {
        assert_true(n < cap);
        states[n] = '-';
        if (r[1] == 1) { /* kind PD_PACKET: CRC in the last four bytes, least significant byte first */
            uint32_t end = head->caplen - 4;
            uint32_t sent = (uint32_t)r[end] | (uint32_t)r[end + 1] << 8 | (uint32_t)r[end + 2] << 16 | (uint32_t)r[end + 3] << 24;

            states[n] = crc32(0, r + 12, end - 12) == sent ? 'g' : 'b';
        }
        n++;
    }
    pcap_close(p);
    return n;
}

static void every_crc_is_called_what_it_is(void **state)
{
    const struct subject *s = *state;
    char                  states[65536], *text = program_says(s, "show --json"), *rest = NULL;
    size_t                n = crc_states(s, states, sizeof states), packets = 0, shown = 0;

    for (size_t k = 0; k < n; k++) {
        packets += states[k] != '-';
        if (states[k] != '-')
            assert_int_equal(states[k] == 'b', spoilt(s, (int)k + 1));
    }
    for (char *line = strtok_r(text, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
        cJSON *json = cJSON_Parse(line);

        assert_non_null(json);
        if (strcmp(text_of(json, "kind"), "packet") == 0) {
            int frame = number_of(json, "frame");

            assert_in_range(frame, 1, n);
            assert_string_equal(text_of(json, "crc"), states[frame - 1] == 'g' ? "good" : "bad");
            shown++;
        }
        cJSON_Delete(json);
    }
    free(text);
    assert_int_equal(shown, packets);
}

static void no_record_and_no_message_is_unknown(void **state)
{
    const struct subject *s = *state;
    char                 *text = program_says(s, "show --json"), *rest = NULL;
    size_t                records = 0;

    for (char *line = strtok_r(text, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
        cJSON      *json = cJSON_Parse(line);
        const char *kind = text_of(json, "kind");

        records++;
        if (strcmp(kind, "damaged") == 0 || strcmp(kind, "unreadable") == 0 || strcmp(kind, "unknown") == 0)
            fail_msg("frame %d is %s", number_of(json, "frame"), kind);
        if (strcmp(kind, "packet") == 0 && strcmp(text_of(json, "type"), "reserved") == 0)
            fail_msg("frame %d: a message of a reserved type", number_of(json, "frame"));
        /* Of a spoilt packet nothing can be read. */
        if (strcmp(kind, "packet") == 0 && strcmp(text_of(json, "crc"), "good") == 0 && strcmp(text_of(json, "from"), "unknown") == 0)
            fail_msg("frame %d: a message of nobody", number_of(json, "frame"));
        cJSON_Delete(json);
    }
    free(text);
    assert_true(records > 0);
}

/* Fills *s for one entry of the list; false if it is not to be tried here. */
static bool subject_fill(struct subject *s, const cJSON *trace, char **argv)
{
    const char *peer = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(trace, "peer"));
    const char *copy = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(trace, "copy"));

    s->portassay = argv[1];
    s->expected = trace;
    if (strcmp(argv[4], "peer") == 0)
        snprintf(s->path, sizeof s->path, "%s/%s/trace.pcap", argv[3], peer);
    else
        snprintf(s->path, sizeof s->path, "%s/%s", argv[3], copy ? copy : "");
    return strcmp(argv[4], "peer") == 0 || copy != NULL;
}

static cJSON *list_read(const char *path)
{
    FILE *f = fopen(path, "r");

    if (!f)
        return NULL;
    char  *text = read_all(f);
    cJSON *list = cJSON_Parse(text);

    fclose(f);
    free(text);
    return list;
}

int main(int argc, char **argv)
{
    static const struct { const char *sentence; CMUnitTestFunction run; } proofs[] = {
        { "every finding is in the list and no other", every_finding_is_in_the_list_and_no_other },
        { "every negotiation is found as a contract", every_negotiation_is_found_as_a_contract },
        { "every CRC is called what it is", every_crc_is_called_what_it_is },
        { "no record and no message is unknown", no_record_and_no_message_is_unknown },
    };
    enum { PROOFS = sizeof proofs / sizeof proofs[0] };
    static struct subject    subjects[TRACES_MAX];
    static char              names[TRACES_MAX * PROOFS][200];
    static struct CMUnitTest tests[TRACES_MAX * PROOFS];
    cJSON                   *list = argc == 5 ? list_read(argv[2]) : NULL;
    const cJSON             *trace;
    size_t                   count = 0, subject = 0;

    if (!list) {
        fputs("usage: test_real_traffic PORTASSAY LIST FOLDER peer|copy (LIST is JSON)\n", stderr);
        return 2;
    }
    if (access(argv[3], R_OK) != 0) {
        printf("skipped: %s is not there\n", argv[3]);
        cJSON_Delete(list);
        return 0;
    }
    cJSON_ArrayForEach(trace, cJSON_GetObjectItemCaseSensitive(list, "traces")) {
        if (subject == TRACES_MAX || !subject_fill(&subjects[subject], trace, argv))
            continue;
        for (size_t k = 0; k < PROOFS; k++) {
            snprintf(names[count], sizeof names[count], "%s: %s", text_of(trace, "peer"), proofs[k].sentence);
            tests[count] = (struct CMUnitTest){ .name = names[count], .test_func = proofs[k].run, .initial_state = &subjects[subject] };
            count++;
        }
        subject++;
    }
    int failed = _cmocka_run_group_tests("real traffic", tests, count, NULL, NULL);

    cJSON_Delete(list);
    return failed;
}
