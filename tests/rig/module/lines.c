// SPDX-License-Identifier: GPL-2.0
/*
 * The GPIO chip: lines with a direction, a level and a bias. SO is driven by the sockets, LID and BUTTON by a
 * contact to ground; the rest is driven by whoever holds the line.
 */
#include <linux/err.h>
#include <linux/gpio/driver.h>
#include <linux/module.h>
#include <linux/mutex.h>
#include <linux/pinctrl/pinconf-generic.h>
#include <linux/spinlock.h>

#include "rig.h"

static const char *const names[RIG_LINES] = {"RIG_SCK", "RIG_SO",  "RIG_SI",  "RIG_CS0",    "RIG_CS1",
					     "RIG_CS2", "RIG_CS3", "RIG_LID", "RIG_BUTTON", "RIG_BUZZER"};

static DEFINE_RAW_SPINLOCK(lock);
static DEFINE_MUTEX(presence);
static struct gpio_chip lines;
static bool present;
static struct platform_device *parent;

static struct {
	bool out, level;
	enum pin_config_param bias;
} state[RIG_LINES];

static bool lid_closed, button_pressed, noise; /* a contact that is made ties its line to ground */
static u32 get_error;			       /* errno of every look at a line while it is not 0 */
static u32 buzzer_edges;

static void tell_chips(void)
{
	struct rig_levels now = {
		.sck = state[LINE_SCK].out && state[LINE_SCK].level,
		.si = state[LINE_SI].out && state[LINE_SI].level,
	};
	int i;

	for (i = 0; i < RIG_SOCKETS; i++) /* a select that nobody drives is held high by its resistor */
		now.select[i] = !state[LINE_CS0 + i].out || state[LINE_CS0 + i].level;
	rig_wire(&now);
}

static bool contact(unsigned int line, bool made)
{
	if (made)
		return false;
	if (state[line].bias == PIN_CONFIG_BIAS_PULL_UP)
		return true;
	if (state[line].bias == PIN_CONFIG_BIAS_PULL_DOWN)
		return false;
	noise = !noise; /* a line in the air is anything */
	return noise;
}

static int line_get(struct gpio_chip *chip, unsigned int line)
{
	unsigned long flags;
	bool level;

	if (get_error)
		return -(int)get_error;
	raw_spin_lock_irqsave(&lock, flags);
	if (state[line].out)
		level = state[line].level;
	else if (line == LINE_SO)
		level = rig_data_level();
	else if (line == LINE_LID)
		level = contact(line, lid_closed);
	else if (line == LINE_BUTTON)
		level = contact(line, button_pressed);
	else
		level = line >= LINE_CS0 && line < LINE_CS0 + RIG_SOCKETS;
	raw_spin_unlock_irqrestore(&lock, flags);
	return level;
}

static void drive(unsigned int line, bool level)
{
	unsigned long flags;

	raw_spin_lock_irqsave(&lock, flags);
	if (line == LINE_BUZZER && state[line].level != level)
		buzzer_edges++;
	state[line].level = level;
	tell_chips();
	raw_spin_unlock_irqrestore(&lock, flags);
}

#if LINUX_VERSION_CODE >= KERNEL_VERSION(6, 17, 0)
static int line_set(struct gpio_chip *chip, unsigned int line, int level)
{
	drive(line, level);
	return 0;
}
#else
static void line_set(struct gpio_chip *chip, unsigned int line, int level)
{
	drive(line, level);
}
#endif

static int line_direction(struct gpio_chip *chip, unsigned int line)
{
	return state[line].out ? GPIO_LINE_DIRECTION_OUT : GPIO_LINE_DIRECTION_IN;
}

static int line_input(struct gpio_chip *chip, unsigned int line)
{
	unsigned long flags;

	raw_spin_lock_irqsave(&lock, flags);
	state[line].out = false;
	tell_chips();
	raw_spin_unlock_irqrestore(&lock, flags);
	return 0;
}

static int line_output(struct gpio_chip *chip, unsigned int line, int level)
{
	unsigned long flags;

	raw_spin_lock_irqsave(&lock, flags);
	state[line].out = true;
	state[line].level = level;
	tell_chips();
	raw_spin_unlock_irqrestore(&lock, flags);
	return 0;
}

static int line_config(struct gpio_chip *chip, unsigned int line, unsigned long config)
{
	enum pin_config_param what = pinconf_to_config_param(config);

	switch (what) {
	case PIN_CONFIG_BIAS_PULL_UP:
	case PIN_CONFIG_BIAS_PULL_DOWN:
	case PIN_CONFIG_BIAS_DISABLE:
		state[line].bias = what;
		return 0;
	default:
		return -ENOTSUPP;
	}
}

/*
 * A chip that comes back has no line names: kernel 6.1 looks every name up among all chips it ever had, and one
 * that went while its lines were held is still in that list, as a null pointer.
 */
static int plug(bool with_names)
{
	int error;

	memset(&lines, 0, sizeof(lines));
	lines.label = RIG_LABEL;
	lines.parent = &parent->dev;
	lines.owner = THIS_MODULE;
	lines.base = -1;
	lines.ngpio = RIG_LINES;
	lines.names = with_names ? names : NULL;
	lines.get_direction = line_direction;
	lines.direction_input = line_input;
	lines.direction_output = line_output;
	lines.get = line_get;
	lines.set = line_set;
	lines.set_config = line_config;
	error = gpiochip_add_data(&lines, NULL);
	present = !error;
	return error;
}

bool rig_lines_present(void)
{
	return present;
}

static int present_get(void *data, u64 *value)
{
	*value = present;
	return 0;
}

static int present_set(void *data, u64 value)
{
	int error = 0, i;

	mutex_lock(&presence);
	if (!value && present) {
		gpiochip_remove(&lines);
		present = false;
		for (i = 0; i < RIG_LINES; i++)
			state[i].out = false;
	} else if (value && !present) {
		error = plug(false);
	}
	mutex_unlock(&presence);
	return error;
}
DEFINE_DEBUGFS_ATTRIBUTE(present_file, present_get, present_set, "%llu\n");

int rig_lines_add(struct platform_device *owner, struct dentry *root)
{
	int i;

	parent = owner;
	for (i = 0; i < RIG_LINES; i++)
		state[i].bias = PIN_CONFIG_BIAS_DISABLE;
	debugfs_create_file("present", 0600, root, NULL, &present_file);
	debugfs_create_bool("lid_closed", 0600, root, &lid_closed);
	debugfs_create_bool("button_pressed", 0600, root, &button_pressed);
	debugfs_create_bool("buzzer", 0400, root, &state[LINE_BUZZER].level);
	debugfs_create_u32("buzzer_edges", 0600, root, &buzzer_edges);
	debugfs_create_u32("get_error", 0600, root, &get_error);
	return plug(true);
}

void rig_lines_remove(void)
{
	if (present)
		gpiochip_remove(&lines);
	present = false;
}
