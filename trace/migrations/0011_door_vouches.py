"""Drops the foreign keys of rows that only the door adds: it has looked up each id or made it in the same call, and no row
is ever taken away. Checking them again, one by one at each commit, was a tenth of what a scan cost the server."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('trace', '0010_quicker_door'),
    ]

    operations = [
        migrations.AlterField(
            model_name='carrier',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='cook',
            name='cycle',
            field=models.ForeignKey(db_column='cycle', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.cycle'),
        ),
        migrations.AlterField(
            model_name='cook',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='cook',
            name='unit',
            field=models.ForeignKey(db_column='unit', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='cycle',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='difference',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='difference',
            name='unit',
            field=models.ForeignKey(db_column='unit', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='edge',
            name='child',
            field=models.ForeignKey(db_column='child', db_constraint=False, db_index=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='edges_up', to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='edge',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, db_index=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='edge',
            name='parent',
            field=models.ForeignKey(db_column='parent', db_constraint=False, db_index=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='edges_down', to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='edgevoid',
            name='edge',
            field=models.OneToOneField(db_column='edge', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, primary_key=True, serialize=False, to='trace.edge'),
        ),
        migrations.AlterField(
            model_name='edgevoid',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='eventresource',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='eventresource',
            name='resource',
            field=models.ForeignKey(db_column='resource', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.resource'),
        ),
        migrations.AlterField(
            model_name='eventunit',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='eventunit',
            name='unit',
            field=models.ForeignKey(db_column='unit', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='hold',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='hold',
            name='unit',
            field=models.ForeignKey(db_column='unit', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='holdrelease',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='holdrelease',
            name='hold',
            field=models.ForeignKey(db_column='hold', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.hold'),
        ),
        migrations.AlterField(
            model_name='holdrelease',
            name='unit',
            field=models.ForeignKey(db_column='unit', db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='label',
            name='carrier',
            field=models.ForeignKey(db_column='carrier', db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.carrier'),
        ),
        migrations.AlterField(
            model_name='label',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='label',
            name='resource',
            field=models.ForeignKey(db_column='resource', db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.resource'),
        ),
        migrations.AlterField(
            model_name='label',
            name='unit',
            field=models.ForeignKey(db_column='unit', db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='scan',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='serial',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
        migrations.AlterField(
            model_name='serial',
            name='plate',
            field=models.OneToOneField(db_column='plate', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.unit'),
        ),
        migrations.AlterField(
            model_name='unit',
            name='carrier',
            field=models.ForeignKey(db_column='carrier', db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.carrier'),
        ),
        migrations.AlterField(
            model_name='unit',
            name='event',
            field=models.ForeignKey(db_column='event', db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='trace.event'),
        ),
    ]
