/*
 * cli/speech_objects.h - the data objects of a message, each with what it is: for JSON, for details, for every command.
 */
#pragma once
#include "decode/field.h"
#include "decode/port.h"

enum { SPEECH_OBJECTS_MAX = 65 };

enum speech_object_kind { SPEECH_PDO, SPEECH_RDO, SPEECH_WORD };
struct speech_object {
    enum speech_object_kind kind;
    enum object_kind        layout;
    uint32_t                word;
    bool                    sink; /* SPEECH_PDO: a sink's */
    struct pdo              pdo;  /* SPEECH_PDO */
    struct rdo              rdo;  /* SPEECH_RDO */
    struct pdo              asked; /* SPEECH_RDO: the object asked for; word 0 if it is not known */
};

/*
 * Fills list with the objects of the message, after the port model has taken it; returns how many. Those of an extended message
 * stand on the packet that completes it. Zero fillers of an EPR announcement are left out; positions stay true.
 */
unsigned speech_objects(const struct port *p, const struct speech *s, struct speech_object list[SPEECH_OBJECTS_MAX]);
/* True for a message that consists of objects: data messages, and EPR capabilities that are complete. */
bool speech_has_objects(const struct speech *s);
/* Source_Capabilities, Sink_Capabilities and their EPR forms. */
bool speech_is_capabilities(const struct message *m);
