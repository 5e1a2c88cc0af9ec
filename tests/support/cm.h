/* cmocka with what it wants included before it. */
#ifndef ES_TESTS_CM_H
#define ES_TESTS_CM_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"

#define COUNT(array) (sizeof(array) / sizeof *(array))

#endif
