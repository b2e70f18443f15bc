#include "core/embedded.h"
